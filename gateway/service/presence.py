"""Who this gateway is among those that share the store, and its signs of life."""

import os
import socket
import time
from dataclasses import dataclass
from datetime import datetime

from gateway.errors import StoreError
from gateway.store import Store

EVERY = 10.0
"""Seconds between two signs of life; the others wait several times as long before they call us gone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Me:
    """`id` belongs to the state folder, `name` is for people."""

    id: str
    name: str

    @property
    def signature(self) -> str:
        """How the names of all workers of this node begin."""
        return f"{self.name}.{self.id[:8]}:"

    @property
    def worker(self) -> str:
        """This process, as leases and the audit log name it."""
        return f"{self.signature}{os.getpid()}"


def me(node_id: str, name: str) -> Me:
    """This gateway; the host's name where the settings give none."""
    return Me(id=node_id, name=name or socket.gethostname())


class Presence:
    """Signs of life. Any thread may give one."""

    def __init__(self, store: Store, who: Me, software: str, began: datetime) -> None:
        self._store = store
        self._who = who
        self._software = software
        self._began = began
        self._next = 0.0

    def beat(self) -> None:
        """A sign of life, if the last one is old enough. Raises StoreError."""
        if time.monotonic() >= self._next:
            self._next = time.monotonic() + EVERY
            self._store.beat(self._who.id, self._who.name, self._software, self._began)

    def leave(self) -> None:
        """Say that this node stopped in order. Raises StoreError."""
        self._store.beat(self._who.id, self._who.name, self._software, self._began, stopped=True)


def alone(store: Store, who: Me) -> None:
    """Raises StoreError where another gateway works on the same SQLite file."""
    for other in store.nodes():
        if other.alive and other.id != who.id:
            raise StoreError(
                f"Another gateway, '{other.name}', works on this store "
                f"(seen {other.silent.total_seconds():.0f} s ago), and SQLite serves one only. Stop one of them, "
                "or let them share a PostgreSQL database: write its "
                "address as store.url on both, and take this store along with `bp-gateway store move`."
            )
