"""Does the clock of this machine run, or does it jump?"""

import time
from collections.abc import Callable
from datetime import datetime, timedelta

from gateway.deliver.skew import TOLERATED, span_words
from gateway.operate.logs import Log
from gateway.store import Store


class Ticking:
    """Compares the wall clock with one that nobody sets and that goes on while the machine sleeps."""

    def __init__(self, store: Store, log: Log, clock: Callable[[], datetime]) -> None:
        self._store = store
        self._log = log
        self._clock = clock
        self._last = (clock(), _ticks())

    def look(self) -> None:
        """Tell a jump. Nothing else is to be done: what a wrong clock put off is brought back when it is claimed."""
        wall, ticks = self._clock(), _ticks()
        jump = (wall - self._last[0]) - (ticks - self._last[1])
        self._last = (wall, ticks)
        if abs(jump) > TOLERATED:
            words = f"{span_words(abs(jump))} {'ahead' if jump > timedelta(0) else 'back'}"
            said = f"the clock of this machine jumped {words}; set up NTP"
            self._log.warning("clock jumped", seconds=round(jump.total_seconds()), said=said)
            self._store.set_health("clock", wall, {"jumped": words})


def _ticks() -> timedelta:
    return timedelta(seconds=time.clock_gettime(time.CLOCK_BOOTTIME))
