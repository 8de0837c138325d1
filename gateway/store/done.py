"""What was delivered, to be compared with what a server holds; and what is sent once more."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import delete, func, select, update

from gateway.model import Act, DeliveryState, EventKind, Waiver, Way
from gateway.model.event import Event
from gateway.store.counting import counts
from gateway.store.database import Part
from gateway.store.rows import waivers_of
from gateway.store.tables import Instant, contents, deliveries, filed, recordings
from gateway.store.trail import append

_D, _F, _R = deliveries.c, filed.c, recordings.c


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneDelivery:
    """One finished delivery and its content."""

    delivery_id: str
    act: Act
    content: bytes
    way: Way | None
    waivers: tuple[Waiver, ...]
    based_on: str | None = None


class Done(Part):
    """The store's side of comparing with a server."""

    def done_since(self, destination: str, since: datetime) -> tuple[str, ...]:
        """Ids of the recordings that were delivered there at this moment or later, and wait for nothing there; of
        several files of one recording the one that counts.
        """
        last = func.max(_D.changed_at, type_=Instant)
        only_done = (func.min(_D.state) == DeliveryState.DONE) & (func.max(_D.state) == DeliveryState.DONE)
        with self._database.reading() as connection:
            rows = connection.execute(
                select(_R.id)
                .join(deliveries, _D.key == _R.key)
                .where(_D.destination == destination, _D.state != DeliveryState.CANCELLED, counts())
                .group_by(_R.id)
                .having(last >= since, only_done)
                .order_by(func.min(_D.number))
            )
            return tuple(rows.scalars())

    def done(self, destination: str, recording_id: str) -> tuple[DoneDelivery, ...]:
        """Its finished deliveries there, and those of other files of it, in order."""
        key = select(_R.key).where(_R.id == recording_id).scalar_subquery()
        with self._database.reading() as connection:
            rows = connection.execute(
                select(deliveries, contents.c.content)
                .join(contents, contents.c.delivery_id == _D.id)
                .where(_D.key == key, _D.destination == destination)
                .where(_D.state == DeliveryState.DONE)
                .order_by(_D.number)
            ).all()
            return tuple(
                DoneDelivery(
                    delivery_id=row.id,
                    act=row.act,
                    content=row.content,
                    way=row.way,
                    based_on=row.based_on,
                    waivers=waivers_of(connection, row.recording_id, row.id),
                )
                for row in rows
            )

    def send_again(
        self, delivery_id: str, missing: Collection[str], relinked: Collection[str], now: datetime, actor: str
    ) -> bool:
        """Put a finished delivery back into the queue, as entries of it are missing; False where it has moved on.

        The ledger forgets the missing, so that these are sent; and the content of the relinked, so that they are
        written once more where they are. Everything else stays as filed.
        """
        with self._database.writing() as connection:
            row = connection.execute(
                select(deliveries).where(_D.id == delivery_id, _D.state == DeliveryState.DONE)
            ).one_or_none()
            if row is None:
                return False
            there = _F.destination == row.destination
            connection.execute(delete(filed).where(there, _F.resource_id.in_(sorted(missing))))
            connection.execute(
                update(filed).where(there, _F.resource_id.in_(sorted(relinked))).values(content_hash="")
            )
            again = {"state": DeliveryState.WAITING, "due": now, "changed_at": now, "attempt": 0}
            connection.execute(update(deliveries).where(_D.id == delivery_id).values(**again))
            detail: dict[str, object] = {
                "step": "reconcile",
                "delivery": delivery_id,
                "destination": row.destination,
                "missing": sorted(missing),
            }
            append(
                connection,
                [Event(kind=EventKind.RECOVERED, at=now, actor=actor, recording=row.recording_id, detail=detail)],
            )
            return True
