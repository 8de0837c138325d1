"""The circuits of the destinations, shared by every thread, process and node, and kept over a restart.

They lie among the states of the running parts, as one of them: `circuit NAME`.
"""

import json
from collections.abc import Callable
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from gateway.model import DeliveryState
from gateway.model.circuit import CLOSED, Circuit
from gateway.store.database import Part
from gateway.store.tables import deliveries, health

CIRCUIT = "circuit "


class Circuits(Part):
    """The store's side of letting a destination rest."""

    def circuit(self, destination: str) -> Circuit:
        """As it stands; closed for a destination that never failed."""
        with self._database.reading() as connection:
            return _read(connection, destination)

    def circuits(self) -> dict[str, Circuit]:
        """Every destination that has failed and not recovered yet."""
        with self._database.reading() as connection:
            rows = connection.execute(select(health).where(health.c.name.startswith(CIRCUIT))).all()
        found = {row.name.removeprefix(CIRCUIT): _from(row) for row in rows}
        return {name: circuit for name, circuit in found.items() if circuit != CLOSED}

    def change_circuit(
        self, destination: str, change: Callable[[Circuit], Circuit], now: datetime
    ) -> tuple[Circuit, Circuit]:
        """Before and after, as one step: no other thread or node changes it in between."""
        with self._database.writing() as connection:
            before = _read(connection, destination)
            after = change(before)
            if after != before:
                _write(connection, destination, after, now)
            return before, after

    def due_now(self, destination: str, now: datetime) -> None:
        """The server is back, so nothing waits out a pause that was meant for its absence. What may have been stored
        keeps its time: a server that is only searched may not show it yet.
        """
        d = deliveries.c
        waiting = (d.destination == destination) & (d.state == DeliveryState.WAITING) & (d.due > now)
        with self._database.writing() as connection:
            connection.execute(update(deliveries).where(waiting, d.outcome_unknown.is_(False)).values(due=now))


def _read(connection: Connection, destination: str) -> Circuit:
    found = connection.execute(select(health).where(health.c.name == CIRCUIT + destination)).one_or_none()
    return CLOSED if found is None else _from(found)


def _write(connection: Connection, destination: str, circuit: Circuit, now: datetime) -> None:
    values = {"at": now, "detail": _text(circuit)}
    named = health.c.name == CIRCUIT + destination
    if not connection.execute(update(health).where(named).values(values)).rowcount:
        connection.execute(insert(health).values(name=CIRCUIT + destination, **values))


def _text(circuit: Circuit) -> str:
    return json.dumps(
        {
            "failures": circuit.failures,
            "failing": circuit.failing,
            "opened": circuit.opened,
            "since": circuit.since.isoformat() if circuit.since else None,
            "until": circuit.until.isoformat() if circuit.until else None,
            "why": circuit.why,
        }
    )


def _from(row: Row[Any]) -> Circuit:
    found = json.loads(row.detail)
    return Circuit(
        failures=found["failures"],
        failing=tuple(found["failing"]),
        opened=found["opened"],
        since=datetime.fromisoformat(found["since"]) if found["since"] else None,
        until=datetime.fromisoformat(found["until"]) if found["until"] else None,
        why=found["why"],
        changed=row.at,
    )
