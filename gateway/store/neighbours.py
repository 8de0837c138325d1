"""Which ready recordings lie beside a new one: of the same person, on the same monitor, or with the same values."""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import ColumnElement, Connection, delete, exists, insert, or_, select

from gateway.model import Act, DeliveryState, RecordingState
from gateway.store.counting import counts
from gateway.store.database import Part
from gateway.store.rows import instants_from
from gateway.store.tables import deliveries, marks, recordings
from gateway.store.values import Neighbour, Question

_R, _D = recordings.c, deliveries.c


class Neighbours(Part):
    """The store's side of asking whether a recording is really new."""

    def neighbours(self, question: Question) -> tuple[Neighbour, ...]:
        """Ready recordings, oldest first: the person's own, those of the monitor that overlap in time, the last
        one of the monitor before this, and those that share a mark. Not those held, refused or wholly withdrawn.
        """
        with self._database.reading() as connection:
            return tuple(beside(connection, question))


def beside(connection: Connection, question: Question) -> Iterator[Neighbour]:
    """As `neighbours`, inside the caller's transaction."""
    ready = (_R.state == RecordingState.READY) & (_R.id != question.recording_id) & counts() & ~_gone()
    rows = connection.execute(select(recordings).where(ready, or_(*_near(connection, question))).order_by(_R.number))
    for row in rows.all():
        yield Neighbour(
            recording_id=row.id,
            person_key=row.person_key,
            serial=row.serial,
            began=row.began,
            ended=row.ended,
            instants=instants_from(row.instants),
            marks=instants_from(row.marks),
            order=row.order_number,
        )


def keep_marks(connection: Connection, question: Question) -> None:
    """The marks of a recording that becomes ready; those of an earlier attempt go."""
    connection.execute(delete(marks).where(marks.c.recording_id == question.recording_id))
    rows = [{"mark": mark, "recording_id": question.recording_id} for mark in question.index]
    if rows:
        connection.execute(insert(marks), rows)


def _near(connection: Connection, question: Question) -> Iterator[ColumnElement[bool]]:
    yield _R.person_key == question.person_key
    if question.index:
        shared = select(marks.c.recording_id).where(marks.c.mark.in_(question.index))
        yield _R.id.in_(shared)
    if question.serial:
        on_it = _R.serial == question.serial
        yield on_it & (_R.began < question.ended) & (_R.ended > question.began)
        if (last := _last_before(connection, question)) is not None:
            yield _R.id == last


def _last_before(connection: Connection, question: Question) -> Any | None:
    return connection.execute(
        select(_R.id)
        .where(_R.serial == question.serial, _R.began < question.began, _R.id != question.recording_id)
        .where(_R.state == RecordingState.READY, counts(), ~_gone())
        .order_by(_R.began.desc(), _R.number.desc())
        .limit(1)
    ).scalar_one_or_none()


def _gone() -> ColumnElement[bool]:
    """Withdrawn everywhere: what is in no record any more speaks against nobody."""
    mine = (_D.key == _R.key) & (_D.act == Act.WITHDRAW)
    open_ = _D.state.in_([DeliveryState.WAITING, DeliveryState.SENDING, DeliveryState.HELD])
    return exists().where(mine, _D.state == DeliveryState.DONE) & ~exists().where(mine, open_)
