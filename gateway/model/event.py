"""What the audit log tells, step by step."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

ACTOR = "gateway"
"""who acts where no person decides"""


class EventKind(StrEnum):
    """Closed list of audited steps."""

    STARTED = "started"
    STOPPED = "stopped"
    RECEIVED = "received"
    SEEN_AGAIN = "seen-again"
    READ = "read"
    HELD = "held"
    READY = "ready"
    RELEASED = "released"
    REFUSED = "refused"
    CORRECTED = "corrected"
    SIGNED_OFF = "signed-off"
    RETRACTED = "retracted"
    ACKNOWLEDGED = "acknowledged"
    OVERTAKEN = "overtaken"
    SENDING = "sending"
    PART_FILED = "part-filed"
    DELIVERED = "delivered"
    POSTPONED = "postponed"
    REJECTED = "rejected"
    RECOVERED = "recovered"
    SETTINGS = "settings"
    EXPORTED = "exported"


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One audited step. `recording` is the recording's opaque id, None for service events.

    `detail` is JSON-ready (text, whole numbers, booleans, lists and mappings of these): codes, counts, hashes and
    identifiers; never names, birth dates or measured values.
    """

    kind: EventKind
    at: datetime
    actor: str
    recording: str | None = None
    detail: Mapping[str, object]
