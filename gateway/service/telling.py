"""Telling the audit repository: a thread of its own, so that no delivery ever waits for it."""

import threading
from collections.abc import Callable
from datetime import datetime

from gateway.deliver import Repository
from gateway.operate.logs import Log, fault
from gateway.store import Store
from gateway.tracing import Tracing, send_next

IDLE = 2.0
"""Seconds between looks for something to tell."""
NAME = "audit repository"


class Telling:
    """Sends what was stored for the repository, and notes how it goes under `status`."""

    def __init__(
        self, *, store: Store, repository: Repository, tracing: Tracing, log: Log, clock: Callable[[], datetime]
    ) -> None:
        self.tracing = tracing
        self._store = store
        self._repository = repository
        self._log = log
        self._clock = clock

    def run(self, stop: threading.Event) -> None:
        """Until `stop` is set."""
        while not stop.is_set():
            try:
                self._all(stop)
            except Exception as error:  # a thread that ended quietly would look like a healthy service
                self._log.error("fault", part=NAME, **fault(error))
            stop.wait(IDLE)

    def once(self) -> str:
        """Tell everything that is due; what is left, "" for nothing."""
        self._all(threading.Event())
        waiting = self._store.traces_waiting()
        return f"{waiting} bundles for the audit repository wait; they are sent later" if waiting else ""

    def _all(self, stop: threading.Event) -> None:
        told = False
        while not stop.is_set():
            outcome = send_next(self._store, self._repository, self._clock)
            if outcome is None:
                break
            told = True
            if outcome:
                self._log.warning("not told", part=NAME, said=outcome)
                self._note(outcome)
                return
        if told:
            self._note("")

    def _note(self, alarm: str) -> None:
        detail: dict[str, object] = {"waiting": self._store.traces_waiting()}
        self._store.set_health(NAME, self._clock(), detail | ({"alarm": alarm} if alarm else {}))
