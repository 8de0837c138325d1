"""Leases of a process that is known to be gone."""

from datetime import datetime

from sqlalchemy import delete, update

from gateway.model import DeliveryState, Event, EventKind, RecordingState
from gateway.store.database import Part, database_now
from gateway.store.tables import arrivals, deliveries, recordings
from gateway.store.trail import append


class TakeOver(Part):
    """The store's side of a restart."""

    def take_over(self, actor: str, now: datetime, of: str = "") -> int:
        """End all leases at once; return how many. Only for a caller that knows that no other process works here, or
        none of those workers whose names begin with `of`.

        What was claimed can be claimed again right away instead of when the lease runs out; a delivery comes back
        with its outcome unknown, as it would then. A file of the inbox that was in hand is free again too.
        """
        ended = {"lease_until": database_now()}
        sending = (deliveries.c.state == DeliveryState.SENDING) & (deliveries.c.lease_until > database_now())
        sending &= deliveries.c.worker.startswith(of, autoescape=True)
        received = (recordings.c.state == RecordingState.RECEIVED) & (recordings.c.lease_until > database_now())
        received &= recordings.c.worker.startswith(of, autoescape=True)
        with self._database.writing() as connection:
            count = connection.execute(update(deliveries).where(sending).values(ended)).rowcount
            count += connection.execute(update(recordings).where(received).values(ended)).rowcount
            connection.execute(delete(arrivals).where(arrivals.c.worker.startswith(of, autoescape=True)))
            if count:
                detail: dict[str, object] = {"step": "take-over", "leases": count}
                append(connection, [Event(kind=EventKind.RECOVERED, at=now, actor=actor, detail=detail)])
        return count
