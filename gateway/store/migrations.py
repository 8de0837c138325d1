"""Numbered changes of the schema, from the first day. A migration that has been released is never edited.

Each is plain SQL that SQLite and PostgreSQL both take; the few types that differ are filled in per database.
All that are missing run in one transaction, so two processes that open an old store at once do it once.
"""

import os
from dataclasses import dataclass

from sqlalchemy import Connection, insert, inspect, select, update

from gateway.audit import GENESIS
from gateway.errors import StoreError
from gateway.store.tables import audit_head, meta

_TYPES = {
    "sqlite": {"number": "INTEGER PRIMARY KEY AUTOINCREMENT", "bytes": "BLOB", "real": "DOUBLE PRECISION"},
}


@dataclass(frozen=True, slots=True)
class Migration:
    """One step of the schema. `statements` may use the type names of `_TYPES` in braces."""

    number: int
    why: str
    statements: tuple[str, ...]


MIGRATIONS = (
    Migration(
        1,
        "the first schema",
        (
            "CREATE TABLE meta (name TEXT PRIMARY KEY NOT NULL, value TEXT NOT NULL)",
            "CREATE TABLE originals ("
            "sha256 TEXT PRIMARY KEY NOT NULL, content {bytes} NOT NULL, stored_at BIGINT NOT NULL)",
            "CREATE TABLE recordings ("
            "number {number}, id TEXT NOT NULL UNIQUE, sha256 TEXT NOT NULL UNIQUE REFERENCES originals (sha256), "
            "name TEXT NOT NULL, state TEXT NOT NULL, received_at BIGINT NOT NULL, changed_at BIGINT NOT NULL, "
            "issue INTEGER NOT NULL, key TEXT, person_key TEXT, serial TEXT, began BIGINT, ended BIGINT, "
            "instants TEXT, hold TEXT, "
            "attempt INTEGER NOT NULL, fence INTEGER NOT NULL, worker TEXT, lease_until {real}, facts {bytes})",
            "CREATE INDEX recordings_by_state ON recordings (state, number)",
            "CREATE INDEX recordings_by_person ON recordings (person_key)",
            "CREATE TABLE deliveries ("
            "number {number}, id TEXT NOT NULL UNIQUE, recording_id TEXT NOT NULL REFERENCES recordings (id), "
            "destination TEXT NOT NULL, act TEXT NOT NULL, person_key TEXT NOT NULL, "
            "state TEXT NOT NULL, created_at BIGINT NOT NULL, changed_at BIGINT NOT NULL, due BIGINT NOT NULL, "
            "way TEXT, outcome_unknown BOOLEAN NOT NULL, answer TEXT, hold TEXT, "
            "attempt INTEGER NOT NULL, fence INTEGER NOT NULL, worker TEXT, lease_until {real}, "
            "UNIQUE (recording_id, destination, act))",
            "CREATE TABLE contents ("
            "delivery_id TEXT PRIMARY KEY NOT NULL REFERENCES deliveries (id), content {bytes} NOT NULL)",
            "CREATE INDEX deliveries_by_state ON deliveries (state, due)",
            "CREATE INDEX deliveries_by_person ON deliveries (destination, person_key, number)",
            "CREATE TABLE filed ("
            "destination TEXT NOT NULL, resource_id TEXT NOT NULL, "
            "recording_id TEXT NOT NULL REFERENCES recordings (id), resource_type TEXT NOT NULL, "
            "server_id TEXT NOT NULL, version TEXT, content_hash TEXT NOT NULL, status TEXT NOT NULL, "
            "changed_at BIGINT NOT NULL, PRIMARY KEY (destination, resource_id))",
            "CREATE INDEX filed_by_recording ON filed (recording_id)",
            "CREATE TABLE decisions ("
            "number {number}, recording_id TEXT NOT NULL REFERENCES recordings (id), "
            "delivery_id TEXT REFERENCES deliveries (id), verdict TEXT NOT NULL, rule TEXT NOT NULL, "
            '"by" TEXT NOT NULL, why TEXT NOT NULL, at BIGINT NOT NULL)',
            "CREATE INDEX decisions_by_recording ON decisions (recording_id)",
            "CREATE TABLE audit ("
            "seq BIGINT PRIMARY KEY NOT NULL, at TEXT NOT NULL, kind TEXT NOT NULL, actor TEXT NOT NULL, "
            "recording TEXT, commitment TEXT NOT NULL, previous TEXT NOT NULL, hash TEXT NOT NULL, "
            "salt {bytes}, detail {bytes})",
            "CREATE INDEX audit_by_recording ON audit (recording, seq)",
            "CREATE TABLE audit_head (only INTEGER PRIMARY KEY NOT NULL, seq BIGINT NOT NULL, hash TEXT NOT NULL)",
            "CREATE TABLE heads (number {number}, line TEXT NOT NULL)",
            "CREATE TABLE health (name TEXT PRIMARY KEY NOT NULL, at BIGINT NOT NULL, detail TEXT NOT NULL)",
        ),
    ),
    Migration(
        2,
        "what an audit repository is to be told",
        (
            "CREATE TABLE traces ("
            "number {number}, content {bytes} NOT NULL, created_at BIGINT NOT NULL, due BIGINT NOT NULL, "
            "attempt INTEGER NOT NULL)",
            "CREATE INDEX traces_by_due ON traces (due, number)",
        ),
    ),
)
NEWEST = MIGRATIONS[-1].number


def migrate(connection: Connection) -> bytes:
    """Bring the store to the newest schema inside the caller's transaction; returns the store's own key.

    A new store gets its key here, once. Raises StoreError for a store that is newer than this program, and for a
    database that holds something else.
    """
    found = _schema(connection)
    if found > NEWEST:
        raise StoreError(
            f"The store has schema {found}, this program knows {NEWEST}. It was used by a newer version: "
            "install that version (or newer), or restore the back-up made before the upgrade."
        )
    types = _TYPES[connection.dialect.name]
    for migration in MIGRATIONS[found:]:
        for statement in migration.statements:
            connection.exec_driver_sql(statement.format(**types))
    if found == 0:
        connection.execute(
            insert(meta), [{"name": "schema", "value": "0"}, {"name": "key", "value": os.urandom(32).hex()}]
        )
        connection.execute(insert(audit_head).values(only=1, seq=0, hash=GENESIS))
    if found < NEWEST:
        connection.execute(update(meta).where(meta.c.name == "schema").values(value=str(NEWEST)))
    return bytes.fromhex(_value(connection, "key"))


def _schema(connection: Connection) -> int:
    """The schema number found, 0 for an empty database."""
    tables = set(inspect(connection).get_table_names())
    if not tables:
        return 0
    if "meta" not in tables:
        raise StoreError("The database holds something else than a store of this gateway; choose another place.")
    return int(_value(connection, "schema"))


def _value(connection: Connection, name: str) -> str:
    value: str | None = connection.execute(select(meta.c.value).where(meta.c.name == name)).scalar_one_or_none()
    if value is None:
        raise StoreError(f"The store is damaged: its {name} is missing. Restore it from a back-up.")
    return value
