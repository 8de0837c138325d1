"""Signed heads: "the log had this many links, and the last one was this", proved by Ed25519 (RFC 8032).

A bare chain whose tail is cut off still verifies. A head kept outside the store shows the cut. One head is one
line of JSON, so a file of heads can be appended to, copied and read by anything:

    {"at":"2026-03-05T12:00:00.000000Z","hash":"…","key":"…","seq":12,"signature":"…","type":"bp-gateway-head/1"}
"""

import json
from base64 import b64decode, b64encode
from binascii import Error as Base64Error
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from hashlib import sha256

import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

_TYPE = "bp-gateway-head/1"
_LONGEST_LINE = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """A signed statement about the chain. `key` is a short fingerprint of the signing key (16 hex digits)."""

    seq: int
    hash: str
    at: str
    key: str
    signature: bytes

    @property
    def line(self) -> str:
        """The head as one line of canonical JSON, without the line end."""
        signature = b64encode(self.signature).decode("ascii")
        return rfc8785.dumps({**_signed(self), "signature": signature}).decode("utf-8")


@dataclass(frozen=True, slots=True)
class TornLine:
    """A line that is no head (1-based), as a machine that lost power while writing leaves it."""

    number: int


def sign(seq: int, head_hash: str, at: datetime, key: Ed25519PrivateKey) -> Head:
    """The signed head of a log that ends with link `seq`."""
    moment = at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    bare = Head(seq=seq, hash=head_hash, at=moment, key=fingerprint(key.public_key()), signature=b"")
    return replace(bare, signature=key.sign(rfc8785.dumps(_signed(bare))))


def genuine(head: Head, key: Ed25519PublicKey) -> bool:
    """Was this head signed with the private half of `key`?"""
    try:
        key.verify(head.signature, rfc8785.dumps(_signed(head)))
    except InvalidSignature:
        return False
    return True


def fingerprint(key: Ed25519PublicKey) -> str:
    """First 16 hex digits of SHA-256 over the 32 raw bytes of the key."""
    return sha256(key.public_bytes_raw()).hexdigest()[:16]


def parse_heads(lines: Iterable[str]) -> Iterator[Head | TornLine]:
    """Heads from the lines of a file, in order; empty lines are passed over. Signatures are not checked here."""
    for number, line in enumerate(lines, start=1):
        if line.strip():
            yield _parse(line) or TornLine(number)


def _parse(line: str) -> Head | None:
    if len(line) > _LONGEST_LINE:
        return None
    try:
        found = json.loads(line)
        signature = b64decode(found["signature"], validate=True)
    except (ValueError, KeyError, TypeError, RecursionError, Base64Error):
        return None
    seq = found.get("seq")
    texts = [found.get(name) for name in ("hash", "at", "key")]
    sound = found.get("type") == _TYPE and type(seq) is int and 0 <= seq < 2**53
    if not sound or not all(isinstance(text, str) for text in texts):
        return None
    return Head(seq=seq, hash=texts[0], at=texts[1], key=texts[2], signature=signature)


def _signed(head: Head) -> dict[str, int | str]:
    return {"type": _TYPE, "seq": head.seq, "hash": head.hash, "at": head.at, "key": head.key}
