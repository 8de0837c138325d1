"""One link of the audit chain: what it covers and how it is computed.

A link covers its number, time, kind, actor, recording, the hash of the link before it, and a commitment to the
detail. The detail itself and its salt are not covered directly, so they can be purged (retention, a person's
right) without breaking the chain; while they are there, they are held to the commitment.

Canonical form: RFC 8785 (JSON Canonicalization Scheme). Hash: SHA-256 (FIPS 180-4). The salt keeps a purged
detail from being guessed back out of its commitment.
"""

from dataclasses import dataclass, replace
from datetime import UTC
from hashlib import sha256

import rfc8785

from gateway.model import Event

GENESIS = "0" * 64
"""The `previous` of the first link."""
SALT_BYTES = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One audited step as stored. Hashes are lower-case hex; `at` is UTC text with microseconds.

    `salt` and `detail` (canonical JSON) are both None once purged.
    """

    seq: int
    at: str
    kind: str
    actor: str
    recording: str | None
    commitment: str
    previous: str
    hash: str
    salt: bytes | None
    detail: bytes | None

    @property
    def purged(self) -> bool:
        """The detail was taken away; what happened, when, by whom still stands."""
        return self.salt is None and self.detail is None


def entry(previous_hash: str, seq: int, event: Event, salt: bytes) -> Entry:
    """The next link. `seq` counts from 1, `salt` must be random and new for every link.

    Raises ValueError for a naive time, a short salt, or a detail that is no plain JSON.
    """
    if event.at.tzinfo is None:
        raise ValueError("an audited step needs an aware time")
    if len(salt) < SALT_BYTES:
        raise ValueError("the salt of an audited step is too short")
    detail = rfc8785.dumps(dict(event.detail))  # type: ignore[arg-type]
    bare = Entry(
        seq=seq,
        at=event.at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
        kind=event.kind.value,
        actor=event.actor,
        recording=event.recording,
        commitment=commitment(salt, detail),
        previous=previous_hash,
        hash="",
        salt=salt,
        detail=detail,
    )
    return replace(bare, hash=link_hash(bare))


def commitment(salt: bytes, detail: bytes) -> str:
    """SHA-256 over salt and canonical detail. The salt's length is fixed, so the two cannot be shifted."""
    return sha256(salt + detail).hexdigest()


def link_hash(link: Entry) -> str:
    """The hash that a link with this content must carry (its own `hash`, `salt`, `detail` are not covered)."""
    covered: dict[str, int | str | None] = {
        "version": 1,
        "seq": link.seq,
        "at": link.at,
        "kind": link.kind,
        "actor": link.actor,
        "recording": link.recording,
        "commitment": link.commitment,
        "previous": link.previous,
    }
    return sha256(rfc8785.dumps(covered)).hexdigest()


def link_holds(link: Entry) -> bool:
    """Does the link carry the hash of its content? Content that no log can hold (a tampered type) does not."""
    try:
        return link_hash(link) == link.hash
    except rfc8785.CanonicalizationError:
        return False


def detail_holds(link: Entry) -> bool:
    """Are salt and detail both there, and do they fit the commitment?"""
    if not isinstance(link.salt, bytes) or not isinstance(link.detail, bytes):
        return False
    return commitment(link.salt, link.detail) == link.commitment
