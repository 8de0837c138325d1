"""The store in one file of this machine, for one gateway."""

import sqlite3
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError

from gateway.errors import StoreError, StoreUnavailable
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


class SqliteFile:
    """A file of its own folder. Writers wait for each other up to 30 s."""

    def __init__(self, place: Path) -> None:
        self._path = prepare(place)

    def engine(self) -> Engine:
        """See `Kind`."""
        engine = create_engine(
            URL.create("sqlite", database=str(self._path)),
            connect_args={"timeout": BUSY_SECONDS},
            hide_parameters=True,  # parameters hold the exported file
        )
        event.listen(engine, "connect", _set_up)
        event.listen(engine, "begin", _begin)
        return engine

    def read_only(self, connection: Connection) -> None:
        """See `Kind`: a transaction that only reads is a consistent picture here."""

    def take_turn(self, connection: Connection) -> None:
        """See `Kind`: BEGIN IMMEDIATE has waited already."""

    def take_schema(self, connection: Connection) -> None:
        """See `Kind`: BEGIN IMMEDIATE has waited already."""

    def fault(self, error: Exception) -> StoreError:
        """See `Kind`."""
        fault = error.orig if isinstance(error, DBAPIError) else error
        name = str(getattr(fault, "sqlite_errorname", ""))
        words = next((text for code, text in _WORDS.items() if name.startswith(code)), str(fault))
        kind = StoreUnavailable if name.startswith(_PASSING) else StoreError
        return kind(f"The store cannot be used: {words}.")


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
