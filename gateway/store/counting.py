"""Which of several files of one recording counts: the one whose content stands, or is to stand, in the records."""

from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, exists, select, update

from gateway.model import Act, DeliveryState, RecordingState
from gateway.store.standing import record_holds
from gateway.store.tables import deliveries, recordings
from gateway.store.values import Correcting

_R, _D = recordings.c, deliveries.c


def counts() -> ColumnElement[bool]:
    """No other file's content stands in the records instead."""
    return _R.superseded_by.is_(None)


def settle_who_counts(connection: Connection, recording_id: str, correcting: Correcting | None) -> None:
    """Part of T2: a new file takes the place of the one that counted, or adds nothing to it."""
    own = correcting.recording_id if correcting is not None and not correcting.counts else None
    connection.execute(update(recordings).where(_R.id == recording_id).values(superseded_by=own))
    if correcting is not None and correcting.counts:
        connection.execute(
            update(recordings).where(_R.id == correcting.recording_id).values(superseded_by=recording_id)
        )


def step_back(connection: Connection, recording_id: str, now: datetime) -> None:
    """A file that was to take another's place is not filed: the other counts again, and is worked on anew where a
    record does not hold it.
    """
    others = connection.execute(select(_R.id, _R.key).where(_R.superseded_by == recording_id)).all()
    for row in others:
        values: dict[str, Any] = {"superseded_by": None}
        if row.key is not None and not _there(connection, row.key):
            values |= {"state": RecordingState.RECEIVED, "fence": _R.fence + 1, "attempt": 0, "changed_at": now}
        connection.execute(update(recordings).where(_R.id == row.id).values(values))


def _there(connection: Connection, key: str) -> bool:
    names = connection.execute(select(_D.destination).where(_D.key == key).distinct()).scalars().all()
    return any(record_holds(connection, key, name) for name in names)


def completes_another(connection: Connection, delivery: Any) -> bool:
    """Did this correction overtake a delivery of which a part is in the record, or may be?"""
    other = (_D.key == delivery.key, _D.destination == delivery.destination, _D.id != delivery.id)
    begun = _D.begun.is_not(None) | _D.outcome_unknown
    overtaken = exists().where(*other, _D.state == DeliveryState.CANCELLED, begun, _D.act != Act.WITHDRAW)
    return delivery.act is Act.CORRECT and bool(connection.execute(select(overtaken)).scalar_one())
