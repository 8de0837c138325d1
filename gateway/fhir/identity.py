"""Names that never change and never tell: ids from a keyed hash, laid out as UUIDs.

HMAC-SHA-256 (RFC 2104, FIPS 198-1) with the store's own key: nobody without the key can get from an id back to a
person or a monitor, and the same recording always gets the same ids. The layout is that of RFC 9562 version 8
("custom"), so that every server takes the result for a UUID.
"""

import hmac
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from uuid import UUID

from gateway.model import Identifier

SYSTEM = "urn:ietf:rfc:3986"
"""The identifier system for values that are URIs (FHIR R4, Identifier.system)."""


@dataclass(frozen=True, slots=True)
class Identity:
    """Gives every resource of one recording its id. `recording_key` is the recording's own UUID."""

    store_key: bytes
    recording_key: str

    def uuid(self, role: str) -> str:
        """Id of the resource that plays a role in this recording ("reading 2026-03-03T09:00:00Z #1", "report"…)."""
        return _keyed(self.store_key, "resource", self.recording_key, role)

    def device(self, kind: str, mark: str) -> str:
        """Id of a device: the same for every recording, from what kind it is and its serial or name."""
        return _keyed(self.store_key, "device", kind, mark)


def recording_key(store_key: bytes, person: Identifier, serial: str | None, first: datetime, issue: int) -> str:
    """UUID of a recording, from person, monitor ("-" when unknown), first instant and issue number.

    Raises ValueError when `first` is not aware.
    """
    if first.utcoffset() is None:
        raise ValueError("a recording begins at an aware instant")
    instant = first.astimezone(UTC).isoformat(timespec="microseconds")
    return _keyed(store_key, "recording", person.system, person.value, serial or "-", instant, str(issue))


def person_key(store_key: bytes, person: Identifier) -> str:
    """Opaque key of a person, for the order of deliveries and for finding earlier recordings."""
    return _keyed(store_key, "person", person.system, person.value)


def trace_key(store_key: bytes, *parts: str) -> str:
    """UUID of what an audit repository is told, the same whenever the same is told again."""
    return _keyed(store_key, "trace", *parts)


def _keyed(key: bytes, *parts: str) -> str:
    # each part is preceded by its length, so that ("a", "bc") and ("ab", "c") differ
    message = b"".join(len(part.encode()).to_bytes(4, "big") + part.encode() for part in parts)
    digest = bytearray(hmac.new(key, message, sha256).digest()[:16])
    digest[6] = (digest[6] & 0x0F) | 0x80
    digest[8] = (digest[8] & 0x3F) | 0x80
    return str(UUID(bytes=bytes(digest)))
