"""The ledger `filed`: what each destination holds under our resource ids."""

from collections.abc import Collection, Sequence
from dataclasses import asdict
from datetime import datetime

from sqlalchemy import Connection, bindparam, insert, select, update

from gateway.model import Filed
from gateway.store.tables import filed

_F = filed.c
_AT_ONCE = 500
"""Databases bound the number of values in one statement."""


def read_ledger(connection: Connection, destination: str, resource_ids: Collection[str]) -> dict[str, Filed]:
    """The rows of these resources at this destination, by resource id."""
    wanted = sorted(set(resource_ids))
    found: dict[str, Filed] = {}
    for start in range(0, len(wanted), _AT_ONCE):
        rows = connection.execute(
            select(filed).where(_F.destination == destination, _F.resource_id.in_(wanted[start : start + _AT_ONCE]))
        )
        for row in rows:
            found[row.resource_id] = Filed(
                resource_id=row.resource_id,
                resource_type=row.resource_type,
                server_id=row.server_id,
                version=row.version,
                content_hash=row.content_hash,
                status=row.status,
            )
    return found


def write_ledger(
    connection: Connection, destination: str, recording_id: str, resources: Sequence[Filed], now: datetime
) -> None:
    """Add or renew the rows of these resources; where one stands twice, the last counts."""
    latest = {resource.resource_id: resource for resource in resources}
    present = read_ledger(connection, destination, latest)
    rows = [
        {**asdict(resource), "destination": destination, "recording_id": recording_id, "changed_at": now}
        for resource in latest.values()
    ]
    new = [row for row in rows if row["resource_id"] not in present]
    if new:
        connection.execute(insert(filed), new)
    old = [
        {"at_destination": destination, "under": row.pop("resource_id"), **row}
        for row in rows
        if row["resource_id"] in present
    ]
    if old:
        same = (_F.destination == bindparam("at_destination")) & (_F.resource_id == bindparam("under"))
        connection.execute(update(filed).where(same), old)
