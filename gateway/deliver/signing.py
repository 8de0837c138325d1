"""Tokens for a signed assertion: OAuth2 client credentials by `private_key_jwt` (SMART Backend Services)."""

import threading
import time
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any
from urllib.parse import urlencode

import jwt

from gateway.deliver.outcome import of_silence
from gateway.deliver.secret import read_secret
from gateway.deliver.stopped import CREDENTIALS_PAUSE, Stopped, for_it
from gateway.deliver.wire import NoReply, Reply, Request, Wire
from gateway.model import TryLater
from gateway.settings.destination import PrivateKeyAuth, safe_address

ASSERTION_TYPE = "urn:ietf:params:oauth:client-assertion-type:jwt-bearer"
ASSERTION_LIFE = 240
"""seconds; SMART Backend Services allows 300, the rest is for clocks that differ"""
LEAST_LIFE = 60.0
"""seconds a token must still live, at most a fifth of its life: it must outlive the request it is sent with"""
OAUTH_ERRORS = frozenset(
    {
        "invalid_request",
        "invalid_client",
        "invalid_grant",
        "unauthorized_client",
        "unsupported_grant_type",
        "invalid_scope",
    }
)
"""The registered error codes (RFC 6749, 5.2)."""


@dataclass(frozen=True, slots=True)
class _Token:
    value: str = field(repr=False)
    renew_at: float


class SignedKey:
    """Client credentials with an assertion signed by our private key; one token for all threads."""

    def __init__(self, auth: PrivateKeyAuth, base: str, wire: Wire, clock: Callable[[], float] = time.time) -> None:
        self._auth = auth
        self._base = base
        self._wire = wire
        self._clock = clock
        self._lock = threading.Lock()
        self._token: _Token | None = None
        self._token_url: str | None = auth.token_url
        self._quiet_until = 0.0

    def header(self, deadline: float) -> str | None:
        """Bearer header with a token that is still good; asks for one where needed."""
        with self._lock:
            if self._token is None or self._clock() >= self._token.renew_at:
                self._token = self._new_token(deadline)
            return f"Bearer {self._token.value}"

    def refused(self) -> bool:
        """Forget the token; the next header brings a new one."""
        with self._lock:
            self._token = None
        return True

    def _new_token(self, deadline: float) -> _Token:
        if self._clock() < self._quiet_until:
            left = timedelta(seconds=self._quiet_until - self._clock())
            raise Stopped(for_it("the authorization server refused our key a short while ago", left))
        address = self._token_url or self._discovered(deadline)
        form = {
            "grant_type": "client_credentials",
            "scope": self._auth.scope,
            "client_assertion_type": ASSERTION_TYPE,
            "client_assertion": self._assertion(address),
        }
        headers = {"Content-Type": "application/x-www-form-urlencoded", "Accept": "application/json"}
        request = Request(method="POST", address=address, headers=headers, content=urlencode(form).encode())
        answer = self._wire.send(request, deadline)
        if isinstance(answer, NoReply):
            raise Stopped(of_silence(answer, writes=False))
        token = _token_in(answer, self._clock())
        if token is None:
            raise Stopped(self._no_token(answer))
        self._token_url = address
        return token

    def _no_token(self, answer: Reply) -> TryLater:
        self._token_url = self._auth.token_url
        if answer.status == 429 or answer.status >= 500 or answer.status < 400:
            return TryLater(why=f"the authorization server gave no token (status {answer.status})")
        self._quiet_until = self._clock() + CREDENTIALS_PAUSE.total_seconds()
        code = answer.body.get("error") if isinstance(answer.body, Mapping) else None
        # error_description may repeat what we sent; the registered error codes (RFC 6749, 5.2) cannot
        words = code if code in OAUTH_ERRORS else f"status {answer.status}"
        return for_it(f"the authorization server refused our key: {words}")

    def _discovered(self, deadline: float) -> str:
        address = f"{self._base}/.well-known/smart-configuration"
        answer = self._wire.send(
            Request(method="GET", address=address, headers={"Accept": "application/json"}), deadline
        )
        if isinstance(answer, NoReply):
            raise Stopped(of_silence(answer, writes=False))
        named = answer.body.get("token_endpoint") if isinstance(answer.body, Mapping) else None
        if answer.status != 200 or not isinstance(named, str):
            raise Stopped(for_it("the server does not say where tokens are given; write auth.token_url"))
        try:
            safe_address(named)
        except ValueError:
            raise Stopped(for_it("the server names a token address that is not safe; write auth.token_url")) from None
        return named

    def _assertion(self, address: str) -> str:
        now = int(self._clock())
        claims: dict[str, Any] = {
            "iss": self._auth.client_id,
            "sub": self._auth.client_id,
            "aud": address,
            "iat": now,
            "exp": now + ASSERTION_LIFE,
            "jti": str(uuid.uuid4()),
        }
        try:
            return jwt.encode(
                claims, read_secret(self._auth.key_file), self._auth.algorithm, headers={"kid": self._auth.key_id}
            )
        except (ValueError, TypeError, jwt.PyJWTError):
            raise Stopped(
                for_it(f"the key file {self._auth.key_file} holds no private key for {self._auth.algorithm}")
            ) from None


def _token_in(answer: Reply, now: float) -> _Token | None:
    body = answer.body
    if answer.status != 200 or not isinstance(body, Mapping):
        return None
    value, life = body.get("access_token"), body.get("expires_in", 300)
    if not isinstance(value, str) or not value.isascii() or not value.isprintable() or " " in value:
        return None
    if str(body.get("token_type", "")).lower() != "bearer":
        return None
    seconds = float(life) if isinstance(life, int) and life > 0 else 300.0
    return _Token(value, now + seconds - min(LEAST_LIFE, seconds / 5))
