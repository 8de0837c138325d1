"""What we show an authorization server: a signed assertion, or a shared secret."""

import uuid
from base64 import b64encode
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol
from urllib.parse import quote_plus

import jwt

from gateway.deliver.keys import Key, keys_in
from gateway.deliver.secret import one_line
from gateway.deliver.stopped import Stopped, for_it
from gateway.settings.credentials import ClientSecretAuth, PrivateKeyAuth

ASSERTION_TYPE = "urn:ietf:params:oauth:client-assertion-type:jwt-bearer"


@dataclass(frozen=True, slots=True)
class Proof:
    """Form fields and headers of one try. `called`: what it is, for IT."""

    called: str
    form: Mapping[str, str] = field(repr=False)
    headers: Mapping[str, str] = field(repr=False, default_factory=dict)


class Proofs(Protocol):
    """The ways in which we can prove who we are, best first. `kind`: what they rest on, for IT."""

    kind: str

    def __call__(self, address: str, now: int) -> Iterator[Proof]:
        """For this token address, at this second since 1970. Raises Stopped where a secret cannot be read."""


class SecretProofs:
    """client_secret_basic and client_secret_post (RFC 6749, 2.3.1)."""

    kind = "secret"

    def __init__(self, auth: ClientSecretAuth) -> None:
        self._auth = auth

    def __call__(self, address: str, now: int) -> Iterator[Proof]:  # noqa: ARG002
        """The one secret."""
        secret = one_line(self._auth.secret_file)
        if self._auth.method == "client_secret_post":
            yield Proof("our secret", {"client_id": self._auth.client_id, "client_secret": secret})
            return
        pair = f"{quote_plus(self._auth.client_id)}:{quote_plus(secret)}".encode()
        yield Proof("our secret", {}, {"Authorization": f"Basic {b64encode(pair).decode()}"})


class KeyProofs:
    """Assertions signed by the keys of the key file, then by those of the older one."""

    kind = "key"

    def __init__(self, auth: PrivateKeyAuth) -> None:
        self._auth = auth

    def __call__(self, address: str, now: int) -> Iterator[Proof]:
        """One assertion for each key; the files are read anew each time, so a new key needs no restart."""
        auth = self._auth
        for key in keys_in(auth.key_file, auth.key_id, auth.algorithm):
            yield self._proof(key, address, now)
        if auth.older_key_file is not None:
            for key in keys_in(auth.older_key_file, auth.older_key_id, auth.algorithm):
                yield self._proof(key, address, now)

    def _proof(self, key: Key, address: str, now: int) -> Proof:
        claims: dict[str, Any] = {
            "iss": self._auth.client_id,
            "sub": self._auth.client_id,
            "aud": address,
            "iat": now,
            "exp": now + self._auth.assertion_seconds,
            "jti": str(uuid.uuid4()),
        }
        try:
            assertion = jwt.encode(claims, key.private, self._auth.algorithm, headers={"kid": key.kid})
        except (ValueError, TypeError, jwt.PyJWTError):
            words = f"the key file {self._auth.key_file} holds no private key for {self._auth.algorithm}"
            raise Stopped(for_it(words)) from None
        form = {"client_assertion_type": ASSERTION_TYPE, "client_assertion": assertion}
        return Proof(f"our key {key.kid}", form)
