"""The store that the settings name."""

from collections.abc import Iterator
from contextlib import contextmanager

from gateway.settings import Settings
from gateway.store import Store

SQLITE = "gateway.sqlite"
"""The store's file in the state folder, where the settings name no database."""


def open_store(settings: Settings) -> Store:
    """The store in the state folder, or in the database that the settings name. Raises StoreError."""
    return Store.open(settings.store if settings.store.url is not None else settings.folders.state / SQLITE)


@contextmanager
def opened_store(settings: Settings) -> Iterator[Store]:
    """The store that the settings name, closed afterwards."""
    with open_store(settings) as store:
        yield store
