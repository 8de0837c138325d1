"""Results of earlier recordings, for comparison and for the table of a practice audit."""

from collections.abc import Iterator
from datetime import datetime

from sqlalchemy import ColumnElement, and_, exists, select

from gateway.model import Act, DeliveryState, RecordingState
from gateway.store.counting import counts
from gateway.store.database import Part, only_row
from gateway.store.tables import deliveries, recordings
from gateway.store.views import StoredResult

_R, _D = recordings.c, deliveries.c
_MOST = 20


class EarlierResults(Part):
    """The store's side of looking back."""

    def earlier_results(self, person_key: str, before: datetime, without: str) -> tuple[bytes, ...]:
        """Stored facts of the person's recordings that ended by `before`, oldest first, at most the latest twenty.

        Only what reached a record and is not being, or was not, withdrawn there. `without` is the recording itself.
        """
        with self._database.reading() as connection:
            rows = connection.execute(
                select(_R.facts)
                .where(_R.person_key == person_key, _R.id != without, _R.ended <= before, _R.facts.is_not(None))
                .where(_filed(), ~_withdrawn())
                .order_by(_R.began.desc(), _R.number.desc())
                .limit(_MOST)
            ).scalars()
            return tuple(reversed(rows.all()))

    def facts(self, recording_id: str) -> bytes | None:
        """The facts of one recording as `preview --json` prints them, None where there are none. Raises StoreError
        for an unknown id.
        """
        with self._database.reading() as connection:
            row = only_row(connection, select(_R.facts).where(_R.id == recording_id), recording_id)
        found: bytes | None = row.facts
        return found

    def results_since(self, since: datetime) -> Iterator[StoredResult]:
        """Every recording with a result that ended at or after `since`, oldest first; not held, refused, withdrawn or
        superseded.

        Read one by one, so that a long table neither fills the memory nor stops the writers.
        """
        wanted = and_(
            _R.state == RecordingState.READY, _R.ended >= since, _R.facts.is_not(None), ~_withdrawn(), counts()
        )
        with self._database.reading() as connection:
            ids = connection.execute(select(_R.id).where(wanted).order_by(_R.ended, _R.number)).scalars().all()
        for recording_id in ids:
            with self._database.reading() as connection:
                row = connection.execute(
                    select(_R.id, _R.person_key, _R.facts, _filed().label("delivered")).where(
                        _R.id == recording_id, wanted
                    )
                ).one_or_none()
            if row is not None:
                yield StoredResult(
                    recording_id=row.id,
                    person_key=row.person_key,
                    delivered=bool(row.delivered),
                    facts=row.facts,
                )


def _filed() -> ColumnElement[bool]:
    ready = and_(_R.state == RecordingState.READY, counts())
    sent = _D.act.in_([Act.FILE, Act.CORRECT])
    return and_(ready, exists().where(_D.key == _R.key, sent, _D.state == DeliveryState.DONE))


def _withdrawn() -> ColumnElement[bool]:
    """A withdrawal that was begun counts: nobody shall lean on what is on its way out."""
    gone = _D.state != DeliveryState.CANCELLED
    return exists().where(_D.key == _R.key, _D.act == Act.WITHDRAW, gone)
