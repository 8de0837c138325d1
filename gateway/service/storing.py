"""The store in the site's state folder."""

from collections.abc import Iterator
from contextlib import contextmanager

from gateway.settings import Settings
from gateway.store import Store


@contextmanager
def opened_store(settings: Settings) -> Iterator[Store]:
    """The store in the site's state folder, closed afterwards."""
    with Store.open(settings.folders.state / "gateway.sqlite") as store:
        yield store
