"""Our private keys, read from their file at the moment of use, each with the id by which the server knows it."""

import json
from base64 import urlsafe_b64encode
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

import jwt
from cryptography.hazmat.primitives.serialization import load_pem_private_key

from gateway.deliver.secret import read_secret
from gateway.deliver.stopped import Stopped, for_it

THUMBPRINT = {"EC": ("crv", "kty", "x", "y"), "RSA": ("e", "kty", "n")}
"""members of a public key that count (RFC 7638, 3.2)"""


@dataclass(frozen=True, slots=True)
class Key:
    """A private key and its id."""

    kid: str
    private: Any = field(repr=False)


def keys_in(path: Path, kid: str | None, algorithm: str) -> tuple[Key, ...]:
    """The keys of a PEM, JWK or JWK Set file, in its order. Raises Stopped, in words for IT."""
    content = read_secret(path)
    try:
        keys = _jwks(json.loads(content), algorithm) if content.lstrip().startswith(b"{") else (_pem(content),)
        return tuple(Key(_own_kid(own, kid) or thumbprint(key, algorithm), key) for own, key in keys)
    except (ValueError, TypeError, KeyError, AttributeError, jwt.PyJWTError):
        raise Stopped(for_it(f"the key file {path} holds no private key for {algorithm}")) from None


def _own_kid(own: str | None, kid: str | None) -> str | None:
    return own or kid


def _pem(content: bytes) -> tuple[str | None, Any]:
    return None, load_pem_private_key(content, password=None)


def _jwks(body: Any, algorithm: str) -> list[tuple[str | None, Any]]:
    members = body.get("keys", [body])
    if not members or not all("d" in member for member in members):
        raise ValueError("no private key")
    return [(member.get("kid"), jwt.PyJWK.from_dict(member, algorithm).key) for member in members]


def thumbprint(private: Any, algorithm: str) -> str:
    """The thumbprint of its public half (RFC 7638), base64url. Raises TypeError for a key of another kind."""
    jwk = jwt.get_algorithm_by_name(algorithm).to_jwk(private.public_key(), as_dict=True)
    counted = {name: jwk[name] for name in THUMBPRINT[jwk["kty"]]}
    digest = sha256(json.dumps(counted, separators=(",", ":"), sort_keys=True).encode()).digest()
    return urlsafe_b64encode(digest).rstrip(b"=").decode()
