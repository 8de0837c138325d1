"""What is to be sent goes into the outbox, as part of T2 or of a person's decision."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, func, insert, select, update

from gateway.model import Act, DeliveryState
from gateway.store.rows import opaque_id
from gateway.store.tables import contents, deliveries
from gateway.store.values import NewDelivery

_D = deliveries.c


@dataclass(frozen=True, slots=True, kw_only=True)
class Addressee:
    """Of which recording a delivery is: the row it belongs to, its key in the record, whose it is."""

    recording_id: str
    key: str
    person_key: str


def enqueue(connection: Connection, store_key: bytes, whose: Addressee, new: NewDelivery, now: datetime) -> str:
    """One delivery with its content; its id. One that was cancelled before under the same key is taken up again with
    the new content, as after a refusal by mistake: what was decided about it stays with it, and its fence keeps
    rising. Otherwise, and for every correction (the last one counts), it is a further round of its act.
    """
    last = connection.execute(
        select(_D.id, _D.state, _D.key)
        .where(_D.recording_id == whose.recording_id, _D.destination == new.destination, _D.act == new.act)
        .order_by(_D.round.desc())
        .limit(1)
    ).one_or_none()
    same = last is not None and last.state is DeliveryState.CANCELLED and last.key == whose.key
    if last is not None and same and new.act is not Act.CORRECT:
        delivery_id = str(last.id)
        again = {"person_key": whose.person_key, "state": DeliveryState.WAITING, "due": now, "changed_at": now}
        fresh = {"way": new.way, "answer": None, "hold": None, "attempt": 0}
        connection.execute(update(deliveries).where(_D.id == delivery_id).values(**again, **fresh))
        connection.execute(contents.delete().where(contents.c.delivery_id == delivery_id))
    else:
        delivery_id = _insert(connection, store_key, whose, new, now)
    connection.execute(insert(contents).values(delivery_id=delivery_id, content=new.content))
    return delivery_id


def _insert(connection: Connection, store_key: bytes, whose: Addressee, new: NewDelivery, now: datetime) -> str:
    same = (_D.recording_id == whose.recording_id, _D.destination == new.destination, _D.act == new.act)
    before = connection.execute(select(func.coalesce(func.max(_D.round), 0)).where(*same)).scalar_one()
    further = (str(before + 1),) if before else ()
    delivery_id = opaque_id(store_key, "delivery", whose.recording_id, new.destination, new.act.value, *further)
    connection.execute(
        insert(deliveries).values(
            id=delivery_id,
            recording_id=whose.recording_id,
            destination=new.destination,
            act=new.act,
            round=before + 1,
            key=whose.key,
            person_key=whose.person_key,
            state=DeliveryState.WAITING,
            created_at=now,
            changed_at=now,
            due=now,
            way=new.way,
            outcome_unknown=False,
            attempt=0,
            fence=0,
        )
    )
    return delivery_id
