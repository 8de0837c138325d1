"""A file too large to be stored: put aside unread, and said."""

from datetime import datetime
from hashlib import sha256

from gateway.model import Event, EventKind, Hold, HoldReason
from gateway.model.event import ACTOR
from gateway.service.notes import why_held
from gateway.service.shelves import Move, Shelves
from gateway.store import Store
from gateway.watch import Arrival


def put_aside(arrival: Arrival, shelves: Shelves, store: Store, now: datetime) -> None:
    """Into `held` with a note; the audit log gets its size and a hash of its name."""
    mark = sha256(arrival.path.name.encode("utf-8", "surrogateescape")).hexdigest()
    detail: dict[str, object] = {
        "reason": HoldReason.FILE_TOO_LARGE.value,
        "bytes": arrival.size,
        "name": mark[:16],
    }
    shelves.put(Move(arrival, mark, shelves.held, why_held(Hold(reason=HoldReason.FILE_TOO_LARGE), "")))
    store.record(Event(kind=EventKind.HELD, at=now, actor=ACTOR, detail=detail))
