"""Appending to the audit trail, always inside the transaction whose step it tells."""

import os
from collections.abc import Iterable, Iterator
from dataclasses import asdict

from sqlalchemy import Connection, insert, select, update

from gateway.audit import SALT_BYTES, Entry, entry
from gateway.model import Event
from gateway.store.database import Part
from gateway.store.tables import audit, audit_head

_AT_ONCE = 500


def append(connection: Connection, events: Iterable[Event]) -> None:
    """Link the events to the chain, in order. The head row is locked: links are made one transaction at a time."""
    head = connection.execute(select(audit_head.c.seq, audit_head.c.hash).with_for_update()).one()
    links: list[Entry] = []
    for event in events:
        previous, seq = (links[-1].hash, links[-1].seq) if links else (head.hash, head.seq)
        links.append(entry(previous, seq + 1, event, os.urandom(SALT_BYTES)))
    if links:
        connection.execute(insert(audit), [asdict(link) for link in links])
        connection.execute(update(audit_head).values(seq=links[-1].seq, hash=links[-1].hash))


class Trail(Part):
    """The store's side of the audit log."""

    def record(self, event: Event) -> None:
        """Append one step that belongs to no transaction of a recording (start, stop, settings)."""
        with self._database.writing() as connection:
            append(connection, [event])

    def audit_entries(self) -> Iterator[Entry]:
        """All entries by number. Read in short transactions, so that a long export does not stop the writers;
        as entries are only ever added, the picture is whole all the same.
        """
        last = 0
        while True:
            with self._database.reading() as connection:
                rows = connection.execute(
                    select(audit).where(audit.c.seq > last).order_by(audit.c.seq).limit(_AT_ONCE)
                ).all()
            for row in rows:
                yield Entry(**row._asdict())
            if len(rows) < _AT_ONCE:
                return
            last = rows[-1].seq

    def head(self) -> tuple[int, str]:
        """Number and hash of the last entry; (0, GENESIS) for an empty log."""
        with self._database.reading() as connection:
            row = connection.execute(select(audit_head.c.seq, audit_head.c.hash)).one()
        return row.seq, row.hash
