"""What an audit repository is to be told: kept with the step it tells of, sent at least once, then forgotten here."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection, delete, func, insert, select, update

from gateway.model import LONGEST_WAIT
from gateway.store.database import Part
from gateway.store.tables import traces

_T = traces.c


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceClaim:
    """One bundle of traces to be sent. `attempt` counts from 1."""

    number: int
    content: bytes
    attempt: int


class Traces(Part):
    """The store's side of telling an audit repository. Nothing here takes part in any delivery."""

    def keep_traces(self, contents: Sequence[bytes], now: datetime) -> None:
        """Keep what belongs to no other step."""
        if contents:
            with self._database.writing() as connection:
                keep(connection, contents, now)

    def claim_trace(self, patience: timedelta, now: datetime) -> TraceClaim | None:
        """The one that is due longest; it is due again after `patience` if nobody says what became of it.

        So a bundle may be sent twice, and none is lost.
        """
        with self._database.writing() as connection:
            row = connection.execute(
                select(traces)
                .where((_T.due <= now) | (_T.due > now + LONGEST_WAIT))  # put off while the clock stood ahead
                .order_by(_T.due, _T.number)
                .limit(1)
                .with_for_update(skip_locked=True)
            ).one_or_none()
            if row is None:
                return None
            attempt = row.attempt + 1
            connection.execute(
                update(traces).where(_T.number == row.number).values(due=now + patience, attempt=attempt)
            )
            return TraceClaim(number=row.number, content=row.content, attempt=attempt)

    def trace_taken(self, claim: TraceClaim) -> None:
        """The repository has it."""
        with self._database.writing() as connection:
            connection.execute(delete(traces).where(_T.number == claim.number))

    def trace_later(self, claim: TraceClaim, due: datetime) -> None:
        """The repository did not take it; nothing is ever given up."""
        with self._database.writing() as connection:
            connection.execute(update(traces).where(_T.number == claim.number).values(due=due))

    def traces_waiting(self) -> int:
        """How many bundles the repository has not taken yet."""
        with self._database.reading() as connection:
            return connection.execute(select(func.count()).select_from(traces)).scalar_one()


def keep(connection: Connection, contents: Sequence[bytes], now: datetime) -> None:
    """Part of another step's transaction: no step without its trace, no trace without its step."""
    for content in contents:
        connection.execute(insert(traces).values(content=content, created_at=now, due=now, attempt=0))
