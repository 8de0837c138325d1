"""The store in a PostgreSQL database, which several nodes may share."""

import os
import stat
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, select
from sqlalchemy.exc import DBAPIError

from gateway.errors import StoreError
from gateway.settings.addresses import on_this_machine
from gateway.settings.storage import StoreChoice, parts_of
from gateway.store.postgres_words import in_words
from gateway.store.tables import audit_head

SCHEMA_LOCK = 0x6270_6761_7465_7761
"""Number of the advisory lock that guards changes of the schema; any number that nobody else uses."""
_LONGEST_PASSWORD = 1024
_PRESENT = 2
_MOST = 6
"""Connections of one process: one writes at a time, and each thread may read beside it."""
_SESSION = {
    "timezone": "UTC",
    "statement_timeout": "60s",
    "lock_timeout": "30s",
    "idle_in_transaction_session_timeout": "30s",  # a node that vanished must not keep the others waiting
    "tcp_keepalives_idle": "10",
    "tcp_keepalives_interval": "5",
    "tcp_keepalives_count": "3",
}


class PostgresServer:
    """A database of a PostgreSQL server. Writers take turns on the row of the audit log's head."""

    def __init__(self, choice: StoreChoice) -> None:
        if choice.url is None:
            raise ValueError("a database server needs an address")
        self._url = choice.url
        self._password_file = choice.password_file
        self._ca_file = choice.ca_file

    def engine(self) -> Engine:
        """See `Kind`. A connection is tried before it is used, so that a restart of the database costs nothing."""
        parts = parts_of(self._url)
        engine = create_engine(
            URL.create(
                "postgresql+psycopg",
                username=parts.username,
                host=parts.hostname,
                port=parts.port,
                database=parts.path.strip("/"),
            ),
            connect_args=self._connecting(),
            pool_size=_PRESENT,
            max_overflow=_MOST - _PRESENT,
            pool_pre_ping=True,
            pool_timeout=30,
            hide_parameters=True,  # parameters hold the exported file
        )
        event.listen(engine, "do_connect", self._with_password)
        return engine

    def read_only(self, connection: Connection) -> None:
        """See `Kind`."""
        connection.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)

    def take_turn(self, connection: Connection) -> None:
        """See `Kind`."""
        connection.execute(select(audit_head.c.only).with_for_update())

    def take_schema(self, connection: Connection) -> None:
        """See `Kind`. The rows of a large store may take long to change, so only the waiting is bounded."""
        connection.exec_driver_sql("SET LOCAL statement_timeout = 0")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({SCHEMA_LOCK})")
        if audit_head.name in inspect(connection).get_table_names():
            self.take_turn(connection)

    def fault(self, error: Exception) -> StoreError:
        """See `Kind`."""
        return in_words(error.orig if isinstance(error, DBAPIError) and error.orig is not None else error)

    def _connecting(self) -> dict[str, Any]:
        chosen: dict[str, Any] = {
            "connect_timeout": 5,
            "application_name": "bp-gateway",
            "keepalives_idle": 10,
            "keepalives_interval": 5,
            "keepalives_count": 3,
            "tcp_user_timeout": 30_000,
            "gssencmode": "disable",
            "options": " ".join(f"-c {name}={value}" for name, value in _SESSION.items()),
            "sslmode": "prefer",
        }
        if not on_this_machine(self._url):
            chosen |= {"sslmode": "verify-full", "ssl_min_protocol_version": "TLSv1.2"}
        if self._ca_file is not None:
            chosen |= {"sslmode": "verify-full", "sslrootcert": str(self._ca_file)}
        return chosen

    def _with_password(self, _dialect: object, _record: object, _arguments: object, given: dict[str, Any]) -> None:
        """The password is read at every connection, so that a new one counts without a restart."""
        if self._password_file is not None:
            given["password"] = _secret(self._password_file)


def _secret(path: Path) -> str:
    try:
        with path.open("rb") as file:
            if stat.S_IMODE(os.fstat(file.fileno()).st_mode) & 0o077:
                raise StoreError(f"Others can read the password of the store in {path}; type: chmod 600 {path}")
            return file.read(_LONGEST_PASSWORD).decode().rstrip("\r\n")
    except OSError as error:
        raise StoreError(f"The password of the store cannot be read from {path}: {error.strerror}.") from error
    except UnicodeDecodeError:
        raise StoreError(f"The password of the store in {path} is not UTF-8 text.") from None
