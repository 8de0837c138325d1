"""Questions about single things: held items, ids, one recording's story, one original."""

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, select

from gateway.errors import StoreError
from gateway.model import Act, DeliveryState, Event, EventKind, RecordingState, Shown, shown
from gateway.store.database import Part, only_row
from gateway.store.naming import new_number
from gateway.store.rows import hold_from
from gateway.store.standing import is_finished
from gateway.store.tables import audit, decisions, deliveries, originals, recordings, withdrawals
from gateway.store.views import (
    Ambiguous,
    Decision,
    DeliveryStory,
    HeldItem,
    HeldKind,
    NotFound,
    Story,
    Withdrawal,
)

_R, _D = recordings.c, deliveries.c
_SHOWN_IDS = 10


class Look(Part):
    """The store's side of asking after one thing."""

    def held(self) -> tuple[HeldItem, ...]:
        """Everything that waits for a person, longest first."""
        with self._database.reading() as connection:
            whole = connection.execute(select(recordings).where(_R.state == RecordingState.HELD)).all()
            parts = connection.execute(
                select(deliveries, _R.name, _R.facts)
                .join(recordings, _R.id == _D.recording_id)
                .where(_D.state == DeliveryState.HELD, _R.state != RecordingState.REFUSED)
            ).all()
        items = [_held(row, HeldKind.RECORDING) for row in whole] + [_held(row, HeldKind.DELIVERY) for row in parts]
        return tuple(sorted(items, key=lambda item: (item.since, item.id)))

    def find(self, prefix: str) -> str | NotFound | Ambiguous:
        """The id of the one recording whose id begins so."""
        with self._database.reading() as connection:
            return _only(prefix, _ids(connection, _R.id, prefix))

    def find_held(self, prefix: str, *, refused: bool = False) -> str | NotFound | Ambiguous:
        """The id of the one held recording or delivery whose id begins so; a recording's id that is not held
        itself stands for its one held delivery.

        With `refused` also of a refused or withdrawn recording, for which the id of a delivery of it stands too: what
        `release` can take back.
        """
        held = _D.state == DeliveryState.HELD
        stuck = select(_D.id).where(_D.key == _R.key, held).exists()
        gone = select(withdrawals.c.number).where(withdrawals.c.key == _R.key).exists() & ~stuck
        back = (_R.state == RecordingState.REFUSED) | ((_R.state == RecordingState.READY) & gone)
        with self._database.reading() as connection:
            found = _ids(connection, _R.id, prefix, _R.state == RecordingState.HELD)
            found += _ids(connection, _D.id, prefix, held)
            if refused:
                found += _ids(connection, _R.id, prefix, back)
                parts = _ids(connection, _D.id, prefix, ~held, _D.recording_id.in_(select(_R.id).where(back)))
                found += connection.execute(select(_D.recording_id).where(_D.id.in_(parts))).scalars()
            whole = _only(prefix, _ids(connection, _R.id, prefix))
            if not found and isinstance(whole, str):
                found = list(connection.execute(select(_D.id).where(_D.recording_id == whole, held)).scalars())
        return _only(prefix, list(dict.fromkeys(found)))

    def story(self, recording_id: str) -> Story:
        """Everything that happened to one recording. Raises StoreError for an unknown id."""
        with self._database.reading() as connection:
            row = only_row(connection, select(recordings).where(_R.id == recording_id), recording_id)
            mine = (_D.recording_id == recording_id) | ((_D.key == row.key) & (_D.act == Act.WITHDRAW))
            sent = connection.execute(select(deliveries).where(mine).order_by(_D.number)).all()
            taken_back = _withdrawals(connection, recording_id, row.key)
            decided = _decisions(connection, recording_id)
            events = _events(connection, recording_id)
        return Story(
            recording_id=recording_id,
            name=row.name,
            sha256=row.sha256,
            state=row.state,
            shown=_shown(row, [each for each in sent if each.key == row.key]),
            superseded_by=row.superseded_by,
            issue=row.issue,
            received_at=row.received_at,
            hold=hold_from(row.hold),
            deliveries=tuple(_delivery(delivery) for delivery in sent),
            decisions=decided,
            events=events,
            withdrawals=taken_back,
        )

    def inbox_of(self, recording_id: str) -> str | None:
        """The id of the inbox it came from, None where only one node ever worked. StoreError for an unknown id."""
        with self._database.reading() as connection:
            row = only_row(connection, select(_R.inbox).where(_R.id == recording_id), recording_id)
        found: str | None = row.inbox
        return found

    def original(self, recording_id: str) -> tuple[str, bytes]:
        """Name and bytes of the exported file. Raises StoreError for an unknown id."""
        with self._database.reading() as connection:
            named = select(_R.name, originals.c.content).join(originals, originals.c.sha256 == _R.sha256)
            row = only_row(connection, named.where(_R.id == recording_id), recording_id)
        return row.name, row.content


def _ids(connection: Connection, column: Any, prefix: str, *which: Any) -> list[str]:
    begins = column.startswith(prefix.strip().lower(), autoescape=True)
    return list(connection.execute(select(column).where(begins, *which).order_by(column).limit(_SHOWN_IDS)).scalars())


def _only(prefix: str, ids: list[str]) -> str | NotFound | Ambiguous:
    if len(ids) == 1 and prefix.strip():
        return ids[0]
    return Ambiguous(prefix, tuple(ids)) if len(ids) > 1 else NotFound(prefix)


def _held(row: Row[Any], kind: HeldKind) -> HeldItem:
    hold = hold_from(row.hold)
    if hold is None:
        raise StoreError(f"The store is damaged: {row.id} is held without a reason.")
    delivery = kind is HeldKind.DELIVERY
    return HeldItem(
        kind=kind,
        id=row.id,
        recording_id=row.recording_id if delivery else row.id,
        name=row.name,
        reason=hold.reason.value,
        rule=hold.rule,
        sentence=hold.sentence,
        action=hold.action,
        since=row.changed_at,
        destination=row.destination if delivery else None,
        answer=(row.answer or "") if delivery else "",
        facts=row.facts,
    )


def _delivery(row: Row[Any]) -> DeliveryStory:
    return DeliveryStory(
        delivery_id=row.id,
        destination=row.destination,
        act=row.act,
        key=row.key,
        begun=row.begun,
        patient=row.patient,
        state=row.state,
        attempt=row.attempt,
        due=row.due,
        changed_at=row.changed_at,
        way=row.way,
        outcome_unknown=row.outcome_unknown,
        answer=row.answer or "",
        hold=hold_from(row.hold),
    )


def _withdrawals(connection: Connection, recording_id: str, key: str | None) -> tuple[Withdrawal, ...]:
    w = withdrawals.c
    rows = connection.execute(
        select(withdrawals).where((w.recording_id == recording_id) | (w.key == key)).order_by(w.number)
    )
    return tuple(
        Withdrawal(
            key=row.key,
            by=row.by,
            why=row.why,
            at=row.at,
            finished=is_finished(connection, row.key),
            acknowledged_by=row.acknowledged_by,
            acknowledged_at=row.acknowledged_at,
        )
        for row in rows.all()
    )


def _shown(recording: Row[Any], sent: Sequence[Row[Any]]) -> Shown:
    states = [row.state for row in sent]
    return shown(
        recording.state,
        superseded=recording.superseded_by is not None,
        held=states.count(DeliveryState.HELD),
        open_=states.count(DeliveryState.WAITING) + states.count(DeliveryState.SENDING),
        done=states.count(DeliveryState.DONE),
        withdrawn=sum(row.state is DeliveryState.DONE and row.act is Act.WITHDRAW for row in sent),
    )


def _decisions(connection: Connection, recording_id: str) -> tuple[Decision, ...]:
    rows = connection.execute(
        select(decisions).where(decisions.c.recording_id == recording_id).order_by(decisions.c.number)
    )
    return tuple(
        Decision(
            verdict=r.verdict,
            rule=r.rule,
            by=r.by,
            why=r.why,
            at=r.at,
            delivery_id=r.delivery_id,
            replaced=r.replaced,
            given=new_number(r.given),
        )
        for r in rows
    )


def _events(connection: Connection, recording_id: str) -> tuple[Event, ...]:
    """From the audit trail; where a detail was purged, it is empty."""
    rows = connection.execute(select(audit).where(audit.c.recording == recording_id).order_by(audit.c.seq))
    return tuple(
        Event(
            kind=EventKind(row.kind),
            at=datetime.fromisoformat(row.at),
            actor=row.actor,
            recording=recording_id,
            detail=json.loads(row.detail) if row.detail is not None else {},
        )
        for row in rows
    )
