"""Small values to and from single columns."""

import json
from collections.abc import Iterable
from hashlib import sha256
from hmac import digest
from uuid import UUID

from sqlalchemy import Connection, func, select

from gateway.model import EventKind, Hold, HoldReason, Waiver
from gateway.store.tables import decisions


def opaque_id(key: bytes, *parts: str) -> str:
    """UUID text over HMAC-SHA-256 with the store's key: stable, and tells nothing to who lacks the key.

    The layout is version 8 of RFC 9562 (custom).
    """
    mac = bytearray(digest(key, "\0".join(parts).encode("utf-8"), sha256)[:16])
    mac[6] = mac[6] & 0x0F | 0x80
    mac[8] = mac[8] & 0x3F | 0x80
    return str(UUID(bytes=bytes(mac)))


def keyed_hash(key: bytes, text: str) -> str:
    """16 hex digits that stand for a text in the audit trail without telling it."""
    return digest(key, text.encode("utf-8", "surrogatepass"), sha256).hex()[:16]


def hold_text(hold: Hold) -> str:
    """A hold as it is stored."""
    return json.dumps(
        {"reason": hold.reason.value, "detail": hold.detail, "rule": hold.rule, "findings": hold.findings}
    )


def hold_from(text: str | None) -> Hold | None:
    """The hold that `hold_text` stored."""
    if text is None:
        return None
    found = json.loads(text)
    return Hold(
        reason=HoldReason(found["reason"]),
        detail=found["detail"],
        rule=found["rule"],
        findings=tuple(found["findings"]),
    )


def instants_text(instants: Iterable[int]) -> str:
    """Instants as they are stored: one number per reading, parted by spaces."""
    return " ".join(str(instant) for instant in instants)


def instants_from(text: str | None) -> tuple[int, ...]:
    """The instants that `instants_text` stored."""
    return tuple(int(part) for part in (text or "").split())


def waivers_of(connection: Connection, recording_id: str, delivery_id: str | None = None) -> tuple[Waiver, ...]:
    """The waivers of a recording and, where given, of one delivery of it; oldest first.

    What was let pass while it bore another person's number counts no more.
    """
    d = decisions
    renamed = select(func.max(d.c.number)).where(d.c.recording_id == recording_id, d.c.given.is_not(None))
    rows = connection.execute(
        select(d.c.rule, d.c.by, d.c.why, d.c.at)
        .where(d.c.recording_id == recording_id, d.c.verdict == EventKind.RELEASED, d.c.rule != "")
        .where(d.c.delivery_id.is_(None) | (d.c.delivery_id == delivery_id))
        .where(d.c.number > func.coalesce(renamed.scalar_subquery(), 0))
        .order_by(d.c.number)
    )
    return tuple(Waiver(rule=r.rule, by=r.by, why=r.why, at=r.at) for r in rows)
