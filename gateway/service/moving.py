"""`store move`: the store of this node becomes the store that all nodes share."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from gateway.errors import StoreError
from gateway.model import Event, EventKind
from gateway.service.lock import only_one
from gateway.service.storing import SQLITE, opened_store
from gateway.settings import Settings
from gateway.store.move import move

MOVED = ".moved"


def moved(
    settings: Settings, actor: str, now: datetime, told: Callable[[str, int], None]
) -> tuple[dict[str, int] | None, Path]:
    """Move the SQLite store of the state folder to the database of the settings; return the rows of each table (None
    where an earlier move had brought all of them over), and where the old file lies now.

    The old file is renamed, so that nobody goes on with it by mistake. Raises StoreError where the service runs,
    where there is nothing to move, and as `gateway.store.move`.
    """
    old = settings.folders.state / SQLITE
    kept = old.with_name(old.name + MOVED)
    if settings.store.url is None:
        raise StoreError("There is nowhere to move to: write the address of the PostgreSQL database as store.url.")
    if not old.exists():
        raise StoreError(f"There is no store to move: {old} is missing. Is folders.state the one that was in use?")
    if kept.exists():
        raise StoreError(f"{kept} is there from an earlier move; put it away first.")
    with only_one(settings.folders.state):
        counts = move(old, settings.store, told)
        if counts is not None:
            detail: dict[str, object] = {"step": "store moved", "rows": sum(counts.values())}
            with opened_store(settings) as store:
                store.record(Event(kind=EventKind.SETTINGS, at=now, actor=actor, detail=detail))
        old.rename(kept)
    return counts, kept
