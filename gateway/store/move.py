"""The whole store from SQLite to PostgreSQL, in one transaction, each row compared before anything counts."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, delete, func, insert, select

from gateway.errors import StoreError
from gateway.settings.storage import StoreChoice
from gateway.store.database import Database
from gateway.store.postgres import PostgresServer
from gateway.store.sqlite import SqliteFile
from gateway.store.tables import audit, audit_head, meta, metadata, recordings

_AT_ONCE = 200
_FRESH = (meta, audit_head)
"""What an empty store holds already; the moved store brings its own."""
Told = Callable[[str, int], None]


def move(old: Path, new: StoreChoice, told: Told) -> dict[str, int] | None:
    """Copy every row of every table into an empty store; return how many, by table. Nobody else may use the old one.
    None where all of it is there already: an earlier move was broken off after its last row.

    `told` hears of each table that was copied and compared. Raises StoreError where the new store is not empty, where
    a row does not come out as it went in (then the new store stays empty), and where a database cannot be used.
    """
    source, target = Database(SqliteFile(old)), Database(PostgresServer(new))
    try:
        with source.reading() as reading, target.writing() as writing:
            if _is_there(source, reading, target, writing):
                return None
            _must_be_empty(writing)
            for fresh in _FRESH:
                writing.execute(delete(fresh))
            counts = {}
            for table in metadata.tables.values():  # as they were declared: what others refer to comes first
                counts[table.name] = _copy(reading, writing, table)
                _compare(reading, writing, table)
                told(table.name, counts[table.name])
            return counts
    finally:
        source.close()
        target.close()


def _is_there(source: Database, reading: Connection, target: Database, writing: Connection) -> bool:
    """Does the target's audit log begin with all of the source's? Every step adds to it, so nothing is missing."""
    end = reading.execute(select(audit_head.c.seq, audit_head.c.hash)).one()
    same = (audit.c.seq == end.seq, audit.c.hash == end.hash)
    return bool(source.key == target.key and end.seq and writing.execute(select(audit.c.seq).where(*same)).first())


def _must_be_empty(writing: Connection) -> None:
    for table in (recordings, audit):
        if writing.execute(select(func.count()).select_from(table)).scalar_one():
            raise StoreError(
                "The database that store.url names holds a store with work in it already; nothing was moved. "
                "Move into an empty database, or take this node's settings for the store that is there."
            )


def _copy(reading: Connection, writing: Connection, table: Table) -> int:
    count = 0
    with _rows(reading, table) as found:
        for rows in found.partitions(_AT_ONCE):
            writing.execute(insert(table), [row._asdict() for row in rows])
            count += len(rows)
    numbered = table.c.get("number")
    if numbered is not None and count:  # new rows count on from here
        counter = func.pg_get_serial_sequence(table.name, numbered.name)
        writing.execute(select(func.setval(counter, func.max(numbered))))
    return count


def _compare(reading: Connection, writing: Connection, table: Table) -> None:
    """Read both sides again, in one order, and compare value by value."""
    with _rows(reading, table) as ours, _rows(writing, table) as theirs:
        for number, row in enumerate(ours, start=1):
            other = theirs.fetchone()
            if other is None or tuple(other) != tuple(row):
                raise StoreError(f"Row {number} of {table.name} did not come out as it went in; nothing was moved.")
        if theirs.fetchone() is not None:
            raise StoreError(f"{table.name} holds more rows than the old store; nothing was moved.")


def _rows(connection: Connection, table: Table) -> Any:
    """All rows in the order of the key's bytes, a few at a time."""
    order = [column.collate("C") if _is_text(column) else column for column in table.primary_key.columns]
    if connection.dialect.name == "sqlite":  # compares text by its bytes anyway
        order = list(table.primary_key.columns)
    return connection.execute(select(table).order_by(*order), execution_options={"yield_per": _AT_ONCE})


def _is_text(column: Any) -> bool:
    return bool(column.type.python_type is str)
