"""The store as the rest of the gateway sees it: one object, written in parts."""

from pathlib import Path
from types import TracebackType
from typing import Self

from gateway.errors import StoreError
from gateway.settings.storage import StoreChoice
from gateway.store.anchor import Anchors
from gateway.store.circuits import Circuits
from gateway.store.correcting import Corrections
from gateway.store.database import Database
from gateway.store.decide import Decisions
from gateway.store.done import Done
from gateway.store.earlier import EarlierResults
from gateway.store.expecting import Expectations
from gateway.store.intake import Intake
from gateway.store.look import Look
from gateway.store.naming import Naming
from gateway.store.neighbours import Neighbours
from gateway.store.nodes import Nodes
from gateway.store.ordering import Ordering
from gateway.store.outbox import Outbox
from gateway.store.overview import Overviews
from gateway.store.postgres import PostgresServer
from gateway.store.sqlite import SqliteFile
from gateway.store.takeover import TakeOver
from gateway.store.traces import Traces
from gateway.store.trail import Trail
from gateway.store.withdrawing import Withdrawals


class Store(
    Intake,
    Outbox,
    Decisions,
    Withdrawals,
    Corrections,
    Look,
    Overviews,
    Trail,
    Anchors,
    TakeOver,
    Nodes,
    EarlierResults,
    Traces,
    Neighbours,
    Naming,
    Circuits,
    Done,
    Expectations,
    Ordering,
):
    """All durable state, in one database.

    `Intake`: receive, claim_received, finish_intake, give_back, same_person. `Outbox`: claim_delivery, note_filed,
    answer, let_go, ledger. `Decisions`: release, refuse. `Withdrawals`: standing, withdraw, withdrawn, acknowledge,
    open_withdrawals, open_notices. `Corrections`: counting, to_work_again, renew. `Look`: held, find, find_held,
    story, original. `Overviews`: overview, counts,
    next_due, set_health, health. `Trail`: record, audit_entries, head. `Anchors`: anchor, heads.
    `EarlierResults`: earlier_results, facts, results_since. `Traces`: keep_traces, claim_trace, trace_taken,
    trace_later, traces_waiting. `Neighbours`: neighbours. `Naming`: rename.
    `Circuits`: circuit, circuits, change_circuit, due_now. `Done`: done_since, done, send_again.
    `Expectations`: expect, expected, expect_no_more, out_to. `Ordering`: order_of, orders_taken, keep_order.

    `Nodes`: beat, nodes, claim_file, file_done.

    One Store may be used from several threads (see `database.py`), and one place by several processes of one
    machine. Every method is one transaction; each may raise StoreError where the database cannot be used.
    """

    @classmethod
    def open(cls, place: str | Path | StoreChoice) -> Self:
        """Open the store at a path (or `sqlite:///PATH`), or in a database of a PostgreSQL server; make it where
        there is none, and bring it up to date.

        Raises StoreMovedOn for a store that a newer version took over, StoreUnavailable where the database cannot be
        reached now, StoreError for a network share and where it cannot be used at all.
        """
        if isinstance(place, StoreChoice):
            return cls(Database(PostgresServer(place)))
        text = str(place)
        if text.startswith("postgresql://"):
            return cls(Database(PostgresServer(StoreChoice(url=text))))
        if "://" in text and not text.startswith("sqlite:///"):
            scheme = text.split(":")[0]
            raise StoreError(f"The store is a path, or begins with sqlite:/// or postgresql://, not with {scheme}.")
        return cls(Database(SqliteFile(Path(text.removeprefix("sqlite:///")))))

    @property
    def key(self) -> bytes:
        """The store's own secret of 32 bytes, made once: opaque ids are derived from it."""
        return self._database.key

    def close(self) -> None:
        """Close all connections; the store is not to be used afterwards."""
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
