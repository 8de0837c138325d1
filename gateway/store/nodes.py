"""The gateways that share this store: who is there, by the database's clock; and which of them has a file in hand."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import case, delete, insert, select, update

from gateway.store.clock import database_now, ended
from gateway.store.database import Part
from gateway.store.tables import arrivals, nodes

SILENT = timedelta(seconds=60)
"""A node that said nothing for so long is taken for gone; its leases end by themselves."""
FORGOTTEN = timedelta(days=14)
_N, _A = nodes.c, arrivals.c


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """One gateway. `id` is its state folder's; `silent`: since its last sign of life, by the database's clock;
    negative where that clock stood ahead then.
    """

    id: str
    name: str
    software: str
    began: datetime
    stopped: bool
    silent: timedelta

    @property
    def alive(self) -> bool:
        """Is it working now, as far as can be told?"""
        return not self.stopped and abs(self.silent) < SILENT


class Nodes(Part):
    """The store's side of several gateways."""

    def beat(self, node_id: str, name: str, software: str, began: datetime, *, stopped: bool = False) -> None:
        """A sign of life. Nodes that were silent for a fortnight are forgotten."""
        values = {"name": name, "software": software, "began": began, "stopped": stopped, "seen": database_now()}
        old = database_now() - FORGOTTEN.total_seconds()
        with self._database.writing() as connection:
            if not connection.execute(update(nodes).where(_N.id == node_id).values(values)).rowcount:
                connection.execute(insert(nodes).values(id=node_id, **values))
            connection.execute(delete(nodes).where(_N.seen < old))

    def nodes(self) -> tuple[Node, ...]:
        """All nodes that were here lately, by name."""
        silent = (database_now() - _N.seen).label("silent")
        with self._database.reading() as connection:
            rows = connection.execute(select(nodes, silent).order_by(_N.name, _N.id)).all()
        return tuple(
            Node(
                id=row.id,
                name=row.name,
                software=row.software,
                began=row.began,
                stopped=row.stopped,
                silent=timedelta(seconds=row.silent),
            )
            for row in rows
        )

    def claim_file(self, mark: str, worker: str, lease: timedelta) -> bool:
        """Lease a file of a shared inbox. False while another worker has it in hand; the worker itself may ask again.

        `mark` stands for the file: the same on every node that sees it, another one when it was written anew.
        """
        until = database_now() + lease.total_seconds()
        with self._database.writing() as connection:
            over = case((ended(_A.lease_until), True), else_=False).label("over")
            row = connection.execute(select(_A.worker, over).where(_A.mark == mark)).one_or_none()
            if row is None:
                connection.execute(insert(arrivals).values(mark=mark, worker=worker, lease_until=until))
            elif row.over or row.worker == worker:
                connection.execute(update(arrivals).where(_A.mark == mark).values(worker=worker, lease_until=until))
            else:
                return False
        return True

    def file_done(self, mark: str, worker: str) -> None:
        """The file has left the inbox, or is let go of. Nothing happens where another worker has it by now."""
        with self._database.writing() as connection:
            connection.execute(delete(arrivals).where(_A.mark == mark, _A.worker == worker))
            connection.execute(delete(arrivals).where(_A.lease_until <= database_now() - 86_400))
