"""What taking back a piece of work comes down to, whoever decides it."""

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select, update

from gateway.model import DeliveryState
from gateway.store.standing import is_finished, is_withdrawn
from gateway.store.tables import deliveries, filed

_D = deliveries.c
FREED: dict[str, Any] = {"hold": None, "worker": None, "lease_until": None, "attempt": 0}
"""columns of a row that nobody works on and nothing holds"""


def in_record(connection: Connection, which: Any, key: str | None = None) -> bool:
    """Is anything of these deliveries in a record, or may it be? What was withdrawn everywhere, as all under `key`
    may have been, is not.
    """
    if key is not None and is_withdrawn(connection, key):
        return not is_finished(connection, key)
    ledger = (filed.c.recording_id == _D.recording_id) & (filed.c.destination == _D.destination)
    perhaps = (
        _D.state.in_([DeliveryState.SENDING, DeliveryState.DONE])
        | _D.outcome_unknown
        | select(filed.c.resource_id).where(ledger).exists()
    )
    return connection.execute(select(_D.id).where(which, perhaps).limit(1)).first() is not None


def cancel(connection: Connection, which: Any, now: datetime) -> None:
    """What of these deliveries is open or held is not sent."""
    open_ = _D.state.in_([DeliveryState.WAITING, DeliveryState.HELD])
    values = {**FREED, "state": DeliveryState.CANCELLED, "changed_at": now}
    connection.execute(update(deliveries).where(which, open_).values(values))
