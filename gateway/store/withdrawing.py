"""A person takes back what was filed: what stands, the decision, the acknowledgement of its notice."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from gateway.errors import StoreError
from gateway.model import Act, Event, EventKind, RecordingState
from gateway.store.database import Part
from gateway.store.enqueue import Addressee, enqueue
from gateway.store.rows import instants_from, keyed_hash
from gateway.store.standing import cancel_unsent, is_finished, is_withdrawn, standing_of
from gateway.store.tables import contents, decisions, deliveries, recordings, withdrawals
from gateway.store.trail import append
from gateway.store.values import NewDelivery, Standing, Withdrawn
from gateway.store.views import Decided, NotPossible

_R, _D, _W = recordings.c, deliveries.c, withdrawals.c


class Withdrawals(Part):
    """The store's side of withdrawing."""

    def standing(self, recording_id: str) -> Standing | None:
        """What stands, or is to stand, in the records of this recording; None where it never came so far.

        Raises StoreError for an unknown id.
        """
        with self._database.reading() as connection:
            return standing_of(connection, recording_id)

    def withdraw(
        self, recording_id: str, standing: Standing, content: Mapping[str, bytes], by: str, why: str, now: datetime
    ) -> Decided | NotPossible | None:
        """Take back everything under the recording's key. What was not sent is cancelled; where something is in a
        record, or may be, `content` (by destination) goes there. Where nothing is anywhere, the recording is refused.

        None (nothing done): what stands is no longer as `standing` says; ask again.
        """
        with self._database.writing() as connection:
            found = standing_of(connection, recording_id)
            if found != standing:
                return None
            if is_withdrawn(connection, standing.key):
                return NotPossible("This recording was withdrawn before.")
            there = [each for each in standing.latest if each.in_record]
            cancel_unsent(connection, standing.key, now)
            for each in there:
                whose = Addressee(recording_id=each.recording_id, key=standing.key, person_key=standing.person_key)
                new = NewDelivery(
                    destination=each.destination, act=Act.WITHDRAW, content=content[each.destination], way=each.way
                )
                enqueue(connection, self._database.key, whose, new, now)
            if there:
                _note_withdrawal(connection, recording_id, standing, by, why, now)
            else:
                _refuse_all(connection, standing.key, now)
            self._tell(connection, recording_id, [each.destination for each in there], by, why, now)
        return Decided(recording_id)

    def withdrawn(self, person_key: str) -> tuple[Withdrawn, ...]:
        """What was taken back and was said to be this person's, oldest first."""
        with self._database.reading() as connection:
            rows = connection.execute(select(withdrawals).where(_W.person_key == person_key).order_by(_W.number))
            return tuple(
                Withdrawn(
                    recording_id=row.recording_id,
                    serial=row.serial,
                    instants=instants_from(row.instants),
                    issue=row.issue,
                    at=row.at,
                    finished=is_finished(connection, row.key),
                )
                for row in rows.all()
            )

    def acknowledge(self, recording_id: str, by: str, now: datetime) -> Decided | NotPossible:
        """A named person has seen the notice of the recording's last withdrawal. Audited."""
        with self._database.writing() as connection:
            row = connection.execute(
                select(withdrawals).where(_W.recording_id == recording_id).order_by(_W.number.desc()).limit(1)
            ).one_or_none()
            if row is None:
                return NotPossible("This recording was not withdrawn, so there is no notice of it.")
            if row.acknowledged_by is not None:
                return NotPossible(f"The notice was acknowledged before, by {row.acknowledged_by}.")
            if not is_finished(connection, row.key):
                return NotPossible("The withdrawal is not finished everywhere; `status` says where it stands.")
            seen = {"acknowledged_by": by, "acknowledged_at": now}
            connection.execute(update(withdrawals).where(_W.number == row.number).values(seen))
            detail: dict[str, object] = {"key": row.key}
            append(
                connection,
                [Event(kind=EventKind.ACKNOWLEDGED, at=now, actor=by, recording=recording_id, detail=detail)],
            )
        return Decided(recording_id)

    def open_withdrawals(self) -> tuple[str, ...]:
        """Recordings whose last withdrawal is not finished, or whose notice nobody acknowledged; oldest first."""
        with self._database.reading() as connection:
            return tuple(dict.fromkeys(row.recording_id for row in _unacknowledged(connection)))

    def open_notices(self) -> tuple[str, ...]:
        """Recordings whose withdrawal is finished and whose notice nobody acknowledged; oldest first."""
        with self._database.reading() as connection:
            rows = _unacknowledged(connection)
            return tuple(dict.fromkeys(row.recording_id for row in rows if is_finished(connection, row.key)))

    def content(self, delivery_id: str) -> bytes:
        """What a delivery sends. Raises StoreError for an unknown one."""
        with self._database.reading() as connection:
            found = connection.execute(
                select(contents.c.content).where(contents.c.delivery_id == delivery_id)
            ).scalar_one_or_none()
        if found is None:
            raise StoreError(f"There is no delivery {delivery_id}.")
        return bytes(found)

    def _tell(
        self, connection: Connection, recording_id: str, there: list[str], by: str, why: str, now: datetime
    ) -> None:
        connection.execute(
            insert(decisions).values(
                recording_id=recording_id, verdict=EventKind.RETRACTED, rule="", by=by, why=why, at=now
            )
        )
        detail: dict[str, object] = {"why": keyed_hash(self._database.key, why), "destinations": sorted(there)}
        append(connection, [Event(kind=EventKind.RETRACTED, at=now, actor=by, recording=recording_id, detail=detail)])


def _unacknowledged(connection: Connection) -> Sequence[Row[Any]]:
    wanted = select(_W.recording_id, _W.key).where(_W.acknowledged_by.is_(None)).order_by(_W.number)
    return tuple(connection.execute(wanted))


def _note_withdrawal(
    connection: Connection, recording_id: str, standing: Standing, by: str, why: str, now: datetime
) -> None:
    """The issue number rises, so that nothing withdrawn is ever written again."""
    row = connection.execute(select(_R.serial, _R.instants, _R.issue).where(_R.id == recording_id)).one()
    connection.execute(
        insert(withdrawals).values(
            recording_id=recording_id,
            key=standing.key,
            person_key=standing.person_key,
            serial=row.serial,
            instants=row.instants,
            issue=row.issue + 1,
            by=by,
            why=why,
            at=now,
        )
    )
    connection.execute(update(recordings).where(_R.key == standing.key).values(issue=row.issue + 1))


def _refuse_all(connection: Connection, key: str, now: datetime) -> None:
    values = {"state": RecordingState.REFUSED, "hold": None, "fence": _R.fence + 1, "changed_at": now}
    connection.execute(update(recordings).where(_R.key == key).values(values))
