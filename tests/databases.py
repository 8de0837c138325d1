"""A place for a new store on either database, and plain SQL on it behind the store's back."""

import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg

KINDS = ("sqlite", "postgresql")


@dataclass(frozen=True)
class Place:
    """`address` is what `Store.open` takes."""

    address: str

    @property
    def on_server(self) -> bool:
        return self.address.startswith("postgresql:")

    @contextmanager
    def connection(self) -> Iterator[Any]:
        """A connection of its own that the store knows nothing of; what was done is kept at the end."""
        if self.on_server:
            with psycopg.connect(self.address, autocommit=True) as server:
                yield server
        else:
            with closing(sqlite3.connect(self.address, timeout=30)) as file, file:
                yield file

    def execute(self, sql: str) -> None:
        """Statements, separated by semicolons."""
        with self.connection() as connection:
            if self.on_server:
                connection.execute(sql)
            else:
                connection.executescript(sql)

    def ask(self, sql: str) -> list[tuple[Any, ...]]:
        """One question."""
        with self.connection() as connection:
            return list(connection.execute(sql).fetchall())

    def digest(self) -> str:
        """Everything in the database as one hash."""
        return hashlib.sha256("\n".join(self._lines()).encode()).hexdigest()

    def _lines(self) -> Iterator[str]:
        with self.connection() as connection:
            if not self.on_server:
                yield from connection.iterdump()
                return
            tables = "SELECT table_name FROM information_schema.tables WHERE table_schema = current_schema()"
            for (table,) in sorted(connection.execute(tables).fetchall()):
                rows = connection.execute(f'SELECT t::text FROM "{table}" AS t ORDER BY 1').fetchall()
                yield from (f"{table} {row[0]}" for row in rows)


def in_folder(folder: Path) -> Place:
    """SQLite in a folder of its own."""
    return Place(str(folder / "store" / "gateway.db"))
