"""What stands in the records under a recording's key, and whether it was given back."""

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select, update

from gateway.model import Act, DeliveryState
from gateway.store.clock import ended
from gateway.store.database import only_row
from gateway.store.tables import contents, deliveries, filed, recordings, withdrawals
from gateway.store.values import Latest, Standing

_R, _D, _W = recordings.c, deliveries.c, withdrawals.c
_OPEN = (DeliveryState.WAITING, DeliveryState.SENDING, DeliveryState.HELD)


def is_finished(connection: Connection, key: str) -> bool:
    """Has every record given back what was filed under this key?"""
    mine = (_D.key == key, _D.act == Act.WITHDRAW, _D.state.in_(_OPEN))
    return connection.execute(select(_D.id).where(*mine).limit(1)).first() is None


def stop_overtaken(connection: Connection, now: datetime) -> list[tuple[str, str]]:
    """Cancel deliveries that a later withdrawal or correction overtakes and nobody works on: what is on its way out
    of a record is not completed first, and a correction carries everything. Gives back (recording, delivery).
    """
    later = deliveries.alias("later").c
    behind = select(later.number).where(
        later.key == _D.key,
        later.destination == _D.destination,
        later.act.in_([Act.WITHDRAW, Act.CORRECT]),
        later.state != DeliveryState.CANCELLED,
        later.number > _D.number,
    )
    lost = (_D.state == DeliveryState.SENDING) & ended(_D.lease_until)
    free = _D.state.in_([DeliveryState.WAITING, DeliveryState.HELD]) | lost
    which = (free, _D.act != Act.WITHDRAW, behind.exists())
    found = [(row.recording_id, row.id) for row in connection.execute(select(_D.recording_id, _D.id).where(*which))]
    if found:
        ids = [delivery_id for _, delivery_id in found]
        connection.execute(update(deliveries).where(_D.id.in_(ids)).values(_cancelled(now)))
    return found


def _cancelled(now: datetime) -> dict[str, Any]:
    freed = {"hold": None, "worker": None, "lease_until": None, "fence": _D.fence + 1}
    return {**freed, "state": DeliveryState.CANCELLED, "changed_at": now}


def standing_of(connection: Connection, recording_id: str) -> Standing | None:
    """What stands, or is to stand, in the records of this recording. Raises StoreError for an unknown id."""
    row = only_row(connection, select(_R.key, _R.person_key, _R.issue).where(_R.id == recording_id), recording_id)
    if row.key is None:
        return None
    latest: dict[str, Latest] = {}
    rows = connection.execute(
        select(deliveries, contents.c.content)
        .join(contents, contents.c.delivery_id == _D.id)
        .where(_D.key == row.key, _D.act != Act.WITHDRAW)
        .order_by(_D.number)
    ).all()
    for each in rows:
        if each.state is not DeliveryState.CANCELLED or each.begun is not None:
            latest[each.destination] = Latest(
                delivery_id=each.id,
                recording_id=each.recording_id,
                destination=each.destination,
                content=each.content,
                way=each.way,
                in_record=record_holds(connection, row.key, each.destination),
            )
    if not latest:
        return None
    return Standing(key=row.key, person_key=row.person_key, issue=row.issue, latest=tuple(latest.values()))


def record_holds(connection: Connection, key: str, destination: str) -> bool:
    """Is anything under this key in that record, or may it be?"""
    ledger = (filed.c.recording_id == _D.recording_id) & (filed.c.destination == _D.destination)
    perhaps = (
        _D.state.in_([DeliveryState.SENDING, DeliveryState.DONE])
        | _D.outcome_unknown
        | _D.begun.is_not(None)
        | ((_D.way.is_not(None)) & select(filed.c.resource_id).where(ledger).exists())
    )
    mine = (_D.key == key, _D.destination == destination, _D.act != Act.WITHDRAW, perhaps)
    return connection.execute(select(_D.id).where(*mine).limit(1)).first() is not None


def is_withdrawn(connection: Connection, key: str | None) -> bool:
    """Was what was filed under this key taken back, finished or not?"""
    return connection.execute(select(_W.number).where(_W.key == key)).first() is not None


def cancel_unsent(connection: Connection, key: str, now: datetime) -> None:
    """What waits under this key, and nobody works on, is not sent any more."""
    unsent = _D.state.in_([DeliveryState.WAITING, DeliveryState.HELD])
    connection.execute(update(deliveries).where(_D.key == key, unsent).values(_cancelled(now)))
