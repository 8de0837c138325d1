"""What a named person decides about held work: let it pass, or refuse it."""

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select, update

from gateway.model import Act, DeliveryState, Event, EventKind, RecordingState
from gateway.store.counting import completes_another, step_back
from gateway.store.database import Part
from gateway.store.rows import hold_from, keyed_hash
from gateway.store.standing import is_finished, is_withdrawn
from gateway.store.tables import contents, decisions, deliveries, recordings
from gateway.store.trail import append
from gateway.store.undoing import FREED, cancel, in_record
from gateway.store.views import Decided, NotPossible

_R, _D = recordings.c, deliveries.c
WITHDRAWN_RULE = "withdrawn-before"
_UNKNOWN = NotPossible("There is no recording or delivery with this number.")
_IN_RECORD = NotPossible(
    "Part of it is in the record already, or may be; it can be withdrawn (retract), not refused."
)


_CORRECTS = NotPossible(
    "It corrects what is in a record. To leave that record as it is, refuse the delivery that is held, by its number."
)


class Decisions(Part):
    """The store's side of deciding. Each decision is audited; the audit trail holds who, what and a keyed hash of
    the reason. The reason's words, which may name a person, stay in the table of decisions.
    """

    def release(self, target: str, by: str, why: str, now: datetime) -> Decided | NotPossible:
        """Let a held recording be worked on again, or a held delivery be sent again.

        The rule of its hold is waived from now on, for this recording or delivery only. A hold without a rule
        cannot be waived: it is simply tried again. A refused recording is worked on anew from its original, so that
        every rule sees it again, also that for recordings already known; so is a withdrawn one, once its withdrawal
        is finished, and it is then filed as something new.
        """
        with self._database.writing() as connection:
            if (row := _find(connection, deliveries, target)) is not None:
                return self._release_delivery(connection, row, by, why, now)
            if (row := _find(connection, recordings, target)) is not None:
                return self._release_recording(connection, row, by, why, now)
        return _UNKNOWN

    def refuse(self, target: str, by: str, why: str, now: datetime) -> Decided | NotPossible:
        """Refuse a recording (its open and held deliveries are cancelled), or cancel one held or waiting delivery.

        Where that was the last delivery and nothing was filed anywhere, the recording is refused with it. Not
        possible once anything of it is in the record, or may be.
        """
        with self._database.writing() as connection:
            if (row := _find(connection, deliveries, target)) is not None:
                return self._refuse_delivery(connection, row, by, why, now)
            if (row := _find(connection, recordings, target)) is not None:
                return self._refuse_recording(connection, row, by, why, now)
        return _UNKNOWN

    def _release_delivery(
        self, connection: Connection, row: Row[Any], by: str, why: str, now: datetime
    ) -> Decided | NotPossible:
        hold = hold_from(row.hold)
        if row.state is not DeliveryState.HELD or hold is None:
            return NotPossible(f"This delivery is not held; it is {row.state}.")
        values = {**FREED, "state": DeliveryState.WAITING, "due": now, "changed_at": now}
        connection.execute(update(deliveries).where(_D.id == row.id).values(values))
        self._note(connection, EventKind.RELEASED, row.recording_id, row.id, hold.rule, by, why, now)
        return Decided(row.recording_id, hold.rule)

    def _release_recording(
        self, connection: Connection, row: Row[Any], by: str, why: str, now: datetime
    ) -> Decided | NotPossible:
        withdrawn = row.state is RecordingState.READY and is_withdrawn(connection, row.key)
        if row.state not in (RecordingState.HELD, RecordingState.REFUSED) and not withdrawn:
            return NotPossible(f"This recording is not held; it is {row.state}. A delivery of it may be held.")
        if withdrawn and not is_finished(connection, row.key):
            return NotPossible("Its withdrawal is not finished everywhere; `status` says where it stands.")
        hold = hold_from(row.hold)
        rule = hold.rule if hold is not None and row.state is RecordingState.HELD else ""
        rule = WITHDRAWN_RULE if withdrawn else rule
        # what was composed before the refusal is not sent: meanwhile a corrected export may have been filed
        cancelled = select(_D.id).where(_D.recording_id == row.id, _D.state == DeliveryState.CANCELLED)
        connection.execute(delete(contents).where(contents.c.delivery_id.in_(cancelled)))
        connection.execute(
            update(recordings)
            .where(_R.id == row.id)
            .values({**FREED, "state": RecordingState.RECEIVED, "fence": row.fence + 1, "changed_at": now})
        )
        self._note(connection, EventKind.RELEASED, row.id, None, rule, by, why, now)
        return Decided(row.id, rule)

    def _refuse_delivery(
        self, connection: Connection, row: Row[Any], by: str, why: str, now: datetime
    ) -> Decided | NotPossible:
        if row.state not in (DeliveryState.HELD, DeliveryState.WAITING):
            return NotPossible(f"This delivery is {row.state}; only what is held or waits can be refused.")
        if row.act is Act.WITHDRAW:
            return NotPossible("A withdrawal that was begun is finished, not refused; release it to try it again.")
        if in_record(connection, _D.id == row.id) or completes_another(connection, row):
            return _IN_RECORD
        cancel(connection, _D.id == row.id, now)
        self._note(connection, EventKind.REFUSED, row.recording_id, row.id, "", by, why, now)
        _refuse_if_nothing_is_left(connection, row.recording_id, now)
        return Decided(row.recording_id)

    def _refuse_recording(
        self, connection: Connection, row: Row[Any], by: str, why: str, now: datetime
    ) -> Decided | NotPossible:
        if row.state is RecordingState.REFUSED:
            return NotPossible("This recording was refused before.")
        if in_record(connection, _D.recording_id == row.id, row.key):
            return _IN_RECORD
        if _corrects(connection, row.id):
            return _CORRECTS
        cancel(connection, _D.recording_id == row.id, now)
        connection.execute(
            update(recordings)
            .where(_R.id == row.id)
            .values({**FREED, "state": RecordingState.REFUSED, "fence": row.fence + 1, "changed_at": now})
        )
        self._note(connection, EventKind.REFUSED, row.id, None, "", by, why, now)
        return Decided(row.id)

    def _note(
        self,
        connection: Connection,
        verdict: EventKind,
        recording_id: str,
        delivery_id: str | None,
        rule: str,
        by: str,
        why: str,
        now: datetime,
    ) -> None:
        connection.execute(
            insert(decisions).values(
                recording_id=recording_id,
                delivery_id=delivery_id,
                verdict=verdict,
                rule=rule,
                by=by,
                why=why,
                at=now,
            )
        )
        detail: dict[str, object] = {"rule": rule, "why": keyed_hash(self._database.key, why)}
        if delivery_id is not None:
            detail["delivery"] = delivery_id
        append(connection, [Event(kind=verdict, at=now, actor=by, recording=recording_id, detail=detail)])


def _find(connection: Connection, table: Any, target: str) -> Row[Any] | None:
    return connection.execute(select(table).where(table.c.id == target)).one_or_none()


def _refuse_if_nothing_is_left(connection: Connection, recording_id: str, now: datetime) -> None:
    """A recording that goes nowhere and is in no record must not stand in the way of its corrected export."""
    others = select(_D.id).where(_D.recording_id == recording_id, _D.state != DeliveryState.CANCELLED)
    if connection.execute(others.limit(1)).first() is None and not in_record(
        connection, _D.recording_id == recording_id
    ):
        ready = (_R.id == recording_id) & (_R.state == RecordingState.READY)
        values = {**FREED, "state": RecordingState.REFUSED, "fence": _R.fence + 1, "changed_at": now}
        connection.execute(update(recordings).where(ready).values(values))
        step_back(connection, recording_id, now)


def _corrects(connection: Connection, recording_id: str) -> bool:
    open_ = _D.state != DeliveryState.CANCELLED
    mine = select(_D.id).where(_D.recording_id == recording_id, _D.act == Act.CORRECT, open_)
    return connection.execute(mine.limit(1)).first() is not None
