"""The store that the settings name."""

from collections.abc import Iterator
from contextlib import contextmanager

from gateway.settings import Settings
from gateway.store import Store


@contextmanager
def opened_store(settings: Settings) -> Iterator[Store]:
    """The store in the state folder, or in the database that the settings name; closed afterwards."""
    chosen = settings.store if settings.store.url is not None else settings.folders.state / "gateway.sqlite"
    with Store.open(chosen) as store:
        yield store
