"""One open database: short transactions, safe to use from several threads, processes and, on PostgreSQL, machines.

Every transaction takes its own connection from a pool, so threads never share one. Writers take turns: within this
process on a lock (fair and cheap, and few connections suffice), between processes on the database's own lock, which
is taken before anything is read. On SQLite that is BEGIN IMMEDIATE, on PostgreSQL the row of the audit log's head,
to which every step adds anyway. So a writing transaction sees all that was written before it, none can slip in
between its question and its change, and none fails half way for another's sake: the same on both databases.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock
from typing import Any, Protocol

from sqlalchemy import Connection, Engine, Row, Select
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as NoConnection

from gateway.errors import StoreError
from gateway.store.clock import database_now
from gateway.store.migrations import migrate, still_usable

__all__ = ["Database", "Kind", "Part", "database_now", "only_row"]


class Kind(Protocol):
    """What differs between the databases."""

    def engine(self) -> Engine:
        """A new engine with its pool; nothing is opened yet."""

    def read_only(self, connection: Connection) -> None:
        """Before a reading transaction begins: a consistent picture, and no writing."""

    def take_turn(self, connection: Connection) -> None:
        """First step of a writing transaction: wait until no other process writes."""

    def take_schema(self, connection: Connection) -> None:
        """First step of changing the schema: wait until nobody else writes or changes it."""

    def fault(self, error: Exception) -> StoreError:
        """A fault of the database in plain words, without values of any row."""


class Database:
    """An open, migrated database. `key` is the store's own secret of 32 bytes, made once."""

    def __init__(self, kind: Kind) -> None:
        self._kind = kind
        self._engine = kind.engine()
        self._turn = Lock()
        try:
            with self._begun(writing=True) as connection:
                kind.take_schema(connection)
                self.key = migrate(connection)
        except BaseException:
            self.close()
            raise

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One writing transaction; all of it or nothing. Not to be nested.

        Raises StoreMovedOn where a newer version has changed the store so that this one must not write any more.
        """
        with self._begun(writing=True) as connection:
            self._kind.take_turn(connection)
            still_usable(connection)
            yield connection

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One reading transaction: a consistent picture. Keep it short, writers may have to wait for it."""
        with self._begun(writing=False) as connection:
            yield connection

    def close(self) -> None:
        """Close all connections."""
        self._engine.dispose()

    @contextmanager
    def _begun(self, *, writing: bool) -> Iterator[Connection]:
        with self._plain_words():
            if not writing:
                with self._engine.connect() as connection:
                    self._kind.read_only(connection)
                    with connection.begin():
                        yield connection
                return
            with self._turn, self._engine.connect() as connection:
                connection.execution_options(writing=True)
                with connection.begin():
                    yield connection

    @contextmanager
    def _plain_words(self) -> Iterator[None]:
        """Faults of the database as StoreError in plain words. Values never show: parameters are hidden."""
        try:
            yield
        except (DBAPIError, sqlite3.Error, NoConnection) as error:
            raise self._kind.fault(error) from error


class Part:
    """One side of the store. `Store` is all of them over one database."""

    def __init__(self, database: Database) -> None:
        self._database = database


def only_row(connection: Connection, asked: Select[Any], recording_id: str) -> Row[Any]:
    """The one row that was asked for. Raises StoreError where the recording is not known."""
    row = connection.execute(asked).one_or_none()
    if row is None:
        raise StoreError(f"There is no recording {recording_id}.")
    return row
