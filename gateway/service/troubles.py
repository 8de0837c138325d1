"""What does not work at the moment. Log and `status` tell it when it begins, while it lasts, and when it is over."""

import contextlib
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from gateway.errors import StoreError
from gateway.operate.logs import Log, fault
from gateway.store import Store

AGAIN = 600.0
"""Seconds after which a trouble that lasts is told once more; not each time, or it would fill the log."""
STORE, FILES = "store", "files"
FAULTS, ALARM = "faults", "alarm"
"""Under which name `status` has them, and what is there while one lasts."""
Clock = Callable[[], datetime]


@dataclass(slots=True)
class _Lasting:
    """One trouble. `since` is by the wall clock; `seen` (last) and `told` are monotonic seconds."""

    words: str
    since: datetime
    seen: float
    told: float


class Troubles:
    """Everything that fails is noted here, by any thread. A full disk or a lost right is one trouble of the store or
    the files, whoever met it. It counts as over when nobody met it for `calm` seconds.
    """

    def __init__(self, store: Store, log: Log, clock: Clock, calm: float, name: str = FAULTS) -> None:
        self._store = store
        self._log = log
        self._clock = clock
        self._calm = calm
        self._name = name
        self._lock = threading.Lock()
        self._lasting: dict[str, _Lasting] = {}
        self._last = ""
        self._noted: str | None = None

    def met(self, part: str, error: Exception) -> None:
        """Something failed. `part`: what was at work, where the error itself does not say what to look at."""
        told = fault(error)
        part = STORE if isinstance(error, StoreError) else FILES if isinstance(error, OSError) else part
        words = f"{part}: {told['said'] or told['kind']}"
        now = time.monotonic()
        with self._lock:
            before = self._lasting.get(part)
            new = before is None or before.words != words or now - before.told >= AGAIN
            since = before.since if before else self._clock()
            self._lasting[part] = _Lasting(words, since, now, now if new or before is None else before.told)
        if new:
            self._log.error("fault", part=part, **told)

    def lasts(self, part: str) -> bool:
        """Did this part fail a moment ago?"""
        with self._lock:
            return part in self._lasting

    def look(self) -> None:
        """Tell what is over, and let `status` know; where the store cannot be written it hears of it later."""
        now = time.monotonic()
        with self._lock:
            over = [part for part, each in self._lasting.items() if now - each.seen >= self._calm]
            ended = {part: self._lasting.pop(part) for part in over}
            lasting = "; ".join(
                f"{each.words} (since {each.since:%Y-%m-%d %H:%M:%S} UTC)" for each in self._lasting.values()
            )
        for part, each in ended.items():
            self._last = f"{each.words} (until {self._clock():%Y-%m-%d %H:%M:%S} UTC)"
            self._log.info("well again", part=part, said=each.words)
        if lasting != self._noted and (lasting or self._noted is not None or ended):
            detail: dict[str, object] = {ALARM: lasting} if lasting else {"now": "none", "last": self._last}
            with contextlib.suppress(StoreError):
                self._store.set_health(self._name, self._clock(), detail)
                self._noted = lasting
