"""One open database: short transactions, safe to use from several threads and processes.

Every transaction takes its own connection from a pool, so threads never share one. Writing transactions of one
process queue on a lock in this process (fair and cheap); those of other processes on SQLite's own lock, for
which BEGIN IMMEDIATE waits up to 30 s. A transaction that has begun therefore never fails for a lock half way.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Lock

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement
from sqlalchemy.types import Double

from gateway.errors import StoreError, StoreUnavailable
from gateway.store.migrations import migrate
from gateway.store.place import journal_mode, prepare

BUSY_SECONDS = 30.0
_WORDS = {
    "SQLITE_BUSY": f"another process kept it locked for {BUSY_SECONDS:.0f} s",
    "SQLITE_FULL": "the disk is full",
    "SQLITE_READONLY": "it cannot be written (permissions, or a disk mounted read-only)",
    "SQLITE_CANTOPEN": "it cannot be opened (permissions, or the folder is gone)",
    "SQLITE_NOTADB": "the file is no SQLite database",
    "SQLITE_CORRUPT": "the file is damaged; restore it from a back-up",
    "SQLITE_IOERR": "the disk reports an error",
}
_PASSING = ("SQLITE_BUSY", "SQLITE_FULL", "SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_IOERR")


class database_now(FunctionElement[float]):  # noqa: N801  (named like the SQL functions it stands beside)
    """The database's own clock in seconds since 1970: the only clock by which leases end."""

    type = Double()
    inherit_cache = True


@compiles(database_now, "sqlite")
def _sqlite_now(element: database_now, compiler: SQLCompiler, **_: object) -> str:  # noqa: ARG001
    # unixepoch('subsec') would be plainer, but gives NULL before SQLite 3.42
    return "((julianday('now') - 2440587.5) * 86400.0)"


class Database:
    """An open, migrated database. `key` is the store's own secret of 32 bytes, made once."""

    def __init__(self, place: Path) -> None:
        self._engine = _sqlite(prepare(place))
        self._turn = Lock()
        try:
            with self.writing() as connection:
                self.key = migrate(connection)
        except BaseException:
            self.close()
            raise

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One writing transaction; all of it or nothing. Not to be nested."""
        with self._turn, _plain_words(), self._engine.connect() as connection:
            connection.execution_options(writing=True)
            with connection.begin():
                yield connection

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One reading transaction: a consistent picture. Keep it short, writers may have to wait for it."""
        with _plain_words(), self._engine.connect() as connection, connection.begin():
            yield connection

    def close(self) -> None:
        """Close all connections."""
        self._engine.dispose()


class Part:
    """One side of the store. `Store` is all of them over one database."""

    def __init__(self, database: Database) -> None:
        self._database = database


def _sqlite(path: Path) -> Engine:
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        connect_args={"timeout": BUSY_SECONDS},
        hide_parameters=True,  # parameters hold the exported file
    )
    event.listen(engine, "connect", _set_up)
    event.listen(engine, "begin", _begin)
    return engine


def _set_up(connection: sqlite3.Connection, _record: object) -> None:
    connection.isolation_level = None  # the driver would begin too late, and not IMMEDIATE
    mode = journal_mode(sqlite3.sqlite_version_info)
    set_mode = connection.execute(f"PRAGMA journal_mode = {mode}").fetchone()[0]
    if set_mode != mode:
        raise StoreError(f"The store's journal cannot be set to {mode} (it is {set_mode}); is it in use elsewhere?")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA trusted_schema = OFF")


def _begin(connection: Connection) -> None:
    writing = connection.get_execution_options().get("writing", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


@contextmanager
def _plain_words() -> Iterator[None]:
    """Faults of the database as StoreError in plain words. Values never show: parameters are hidden."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        fault = error.orig if isinstance(error, DBAPIError) else error
        name = str(getattr(fault, "sqlite_errorname", ""))
        words = next((text for code, text in _WORDS.items() if name.startswith(code)), str(fault))
        kind = StoreUnavailable if name.startswith(_PASSING) else StoreError
        raise kind(f"The store cannot be used: {words}.") from error
