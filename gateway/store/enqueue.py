"""What is to be sent goes into the outbox, as part of T2."""

from datetime import datetime

from sqlalchemy import Connection, insert, update

from gateway.model import DeliveryState
from gateway.store.rows import opaque_id
from gateway.store.tables import contents, deliveries
from gateway.store.values import IntakeClaim, NewDelivery, ReadyIntake

_D = deliveries.c


def enqueue(connection: Connection, key: bytes, claim: IntakeClaim, outcome: ReadyIntake, now: datetime) -> None:
    """One delivery per destination, with its content. One that was cancelled before is taken up again with the new
    content, as after a refusal by mistake: what was decided about it stays with it, and its fence keeps rising.
    """
    for new in outcome.deliveries:
        delivery_id = opaque_id(key, "delivery", claim.recording_id, new.destination, new.act.value)
        if not _take_up_again(connection, delivery_id, outcome.person_key, now):
            _insert(connection, delivery_id, claim.recording_id, outcome.person_key, new, now)
        connection.execute(insert(contents).values(delivery_id=delivery_id, content=new.content))


def _take_up_again(connection: Connection, delivery_id: str, person_key: str, now: datetime) -> bool:
    again = {"person_key": person_key, "state": DeliveryState.WAITING, "due": now, "changed_at": now, "attempt": 0}
    cancelled = (_D.id == delivery_id) & (_D.state == DeliveryState.CANCELLED)
    changed = connection.execute(update(deliveries).where(cancelled).values(way=None, answer=None, **again))
    return changed.rowcount == 1


def _insert(
    connection: Connection, delivery_id: str, recording_id: str, person_key: str, new: NewDelivery, now: datetime
) -> None:
    connection.execute(
        insert(deliveries).values(
            id=delivery_id,
            recording_id=recording_id,
            destination=new.destination,
            act=new.act,
            person_key=person_key,
            state=DeliveryState.WAITING,
            created_at=now,
            changed_at=now,
            due=now,
            outcome_unknown=False,
            attempt=0,
            fence=0,
        )
    )
