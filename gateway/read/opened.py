"""One file while it is read: its bytes, and what was taken out of them, so that many maps look at it once."""

from collections.abc import Callable, Hashable
from typing import TypeVar, cast

from gateway.read.held import Held

Made = TypeVar("Made")


class Opened:
    """The bytes and the name of one file, for the time of one `read`."""

    __slots__ = ("_made", "content", "name")

    def __init__(self, content: bytes, name: str) -> None:
        self.content = content
        self.name = name
        self._made: dict[Hashable, object] = {}

    def once(self, what: Hashable, make: Callable[[], Made]) -> Made:
        """What `make` gave the first time, or the Held that it raised."""
        if what not in self._made:
            try:
                self._made[what] = make()
            except Held as held:
                self._made[what] = held
        found = self._made[what]
        if isinstance(found, Held):
            raise found
        return cast(Made, found)
