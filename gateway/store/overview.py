"""Questions about everything at once: counts, what is due, how each destination and each running part fares."""

import json
from collections import Counter
from collections.abc import Collection, Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, and_, case, func, insert, literal, select, update

from gateway.model import Act, DeliveryState, RecordingState, Shown, shown
from gateway.store.clock import AGREED, ended
from gateway.store.database import Part, database_now
from gateway.store.outbox import unblocked
from gateway.store.tables import Instant, deliveries, health, recordings
from gateway.store.views import Counts, DestinationState, Health, Overview

_R, _D = recordings.c, deliveries.c
_OPEN = (DeliveryState.WAITING, DeliveryState.SENDING)


class Overviews(Part):
    """The store's side of looking at the whole."""

    def overview(self, now: datetime) -> Overview:
        """Everything that `status` shows."""
        with self._database.reading() as connection:
            return Overview(
                recordings=_by_shown(connection),
                oldest_waiting=_oldest_waiting(connection),
                destinations=_destinations(connection, now),
            )

    def counts(self) -> Counts:
        """Rows by state."""
        with self._database.reading() as connection:
            whole = connection.execute(select(_R.state, func.count()).group_by(_R.state))
            parts = connection.execute(select(_D.state, func.count()).group_by(_D.state))
            return Counts(recordings={row[0]: row[1] for row in whole}, deliveries={row[0]: row[1] for row in parts})

    def next_due(self, now: datetime, destinations: Collection[str] | None = None) -> datetime | None:
        """The next moment at which `claim_received` or `claim_delivery` can find something; `now` where they can
        already, None where nothing is under way. Work leased to somebody counts from the end of its lease.
        """
        wanted = () if destinations is None else (_D.destination.in_(sorted(destinations)),)
        with self._database.reading() as connection:
            clock = connection.execute(select(database_now())).scalar_one()
            waiting = connection.execute(
                select(_earliest(_due(now))).where(_D.state == DeliveryState.WAITING, unblocked(), *wanted)
            ).scalar_one()
            sending = connection.execute(
                select(func.min(_free_from(_D.lease_until))).where(_D.state == DeliveryState.SENDING, *wanted)
            ).scalar_one()
            received = connection.execute(
                select(func.min(func.coalesce(_free_from(_R.lease_until), 0.0))).where(
                    _R.state == RecordingState.RECEIVED
                )
            ).scalar_one()
        leases = [now + timedelta(seconds=max(0.0, end - clock)) for end in (sending, received) if end is not None]
        times = leases if waiting is None else [*leases, waiting]
        return max(now, min(times)) if times else None

    def set_health(self, name: str, at: datetime, detail: Mapping[str, object]) -> None:
        """Note the state of one running part (no audit entry; the last one counts). `detail` is JSON-ready."""
        values = {"at": at, "detail": json.dumps(dict(detail))}
        with self._database.writing() as connection:
            if not connection.execute(update(health).where(health.c.name == name).values(values)).rowcount:
                connection.execute(insert(health).values(name=name, **values))

    def health(self) -> dict[str, Health]:
        """The last known states of the running parts, by name."""
        with self._database.reading() as connection:
            rows = connection.execute(select(health).order_by(health.c.name)).all()
        return {row.name: Health(at=row.at, detail=json.loads(row.detail)) for row in rows}


def of_recording() -> Any:
    """Which deliveries tell a recording's state: its own under its present key, and any withdrawal of that key."""
    return (_D.key == _R.key) & ((_D.recording_id == _R.id) | (_D.act == Act.WITHDRAW))


def _due(now: datetime) -> Any:
    """What was put off while our clock stood ahead counts from now, as when it is claimed."""
    meant = literal(now, Instant) + (_D.due - _D.changed_at)
    return case(((_D.due > now) & (_D.changed_at > now + AGREED), meant), else_=_D.due)


def _free_from(lease_until: Any) -> Any:
    return case((ended(lease_until), 0.0), else_=lease_until)


def _earliest(column: Any) -> Any:
    return func.min(column, type_=Instant)


def _number_of(which: Any) -> Any:
    return func.coalesce(func.sum(case((which, 1), else_=0)), 0)


def _by_shown(connection: Connection) -> dict[Shown, int]:
    """Counted in the database per combination of states, so that a million recordings are a handful of rows."""
    done = _D.state == DeliveryState.DONE
    per_recording = (
        select(
            _R.state.label("state"),
            _R.superseded_by.is_not(None).label("superseded"),
            _number_of(_D.state == DeliveryState.HELD).label("held"),
            _number_of(_D.state.in_(_OPEN)).label("open"),
            _number_of(done).label("done"),
            _number_of(and_(done, _D.act == Act.WITHDRAW)).label("withdrawn"),
        )
        .select_from(recordings.outerjoin(deliveries, of_recording()))
        .group_by(_R.id, _R.state, _R.superseded_by)
        .subquery()
    )
    p = per_recording.c
    columns = (p.state, p.superseded, p.held, p.open, p.done, p.withdrawn)
    found: Counter[Shown] = Counter()
    for row in connection.execute(select(*columns, func.count().label("times")).group_by(*columns)):
        figures = {"held": row.held, "open_": row.open, "done": row.done, "withdrawn": row.withdrawn}
        seen = shown(row.state, **figures, superseded=bool(row.superseded))
        found[seen] += row.times
    return dict(found)


def _oldest_waiting(connection: Connection) -> datetime | None:
    received = connection.execute(
        select(_earliest(_R.received_at)).where(_R.state == RecordingState.RECEIVED)
    ).scalar_one()
    unsent = connection.execute(select(_earliest(_D.created_at)).where(_D.state.in_(_OPEN))).scalar_one()
    return min((moment for moment in (received, unsent) if moment is not None), default=None)


def _destinations(connection: Connection, now: datetime) -> tuple[DestinationState, ...]:
    done, waiting = _D.state == DeliveryState.DONE, _D.state == DeliveryState.WAITING
    rows = connection.execute(
        select(
            _D.destination,
            _number_of(_D.state.in_(_OPEN)).label("waiting"),
            _number_of(_D.state == DeliveryState.HELD).label("held"),
            _number_of(done).label("done"),
            func.max(case((done, _D.changed_at)), type_=Instant).label("last"),
            func.min(case((waiting, _D.due)), type_=Instant).label("next"),
        )
        .group_by(_D.destination)
        .order_by(_D.destination)
    )
    return tuple(
        DestinationState(
            destination=row.destination,
            waiting=row.waiting,
            held=row.held,
            done=row.done,
            last_delivered=row.last,
            next_due=None if row.next is None else max(now, row.next),
        )
        for row in rows
    )
