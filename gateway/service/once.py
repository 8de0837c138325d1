"""One pass over the inbox, or over named files, and what it did in counts."""

import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path

from gateway import pipeline
from gateway.intake import Tools
from gateway.service.account import Account
from gateway.service.inbound import Inbound, Taken
from gateway.service.pdfs import companion_at, lying_beside
from gateway.service.troubles import Clock
from gateway.store import Store
from gateway.watch import Arrival, InboxHealth

PAUSE = 1.0
"""Seconds between looks whether a file that is being written is complete."""
Tell = Callable[[str, int, int], None]


class OnePass:
    """The taking of `once`. `guarded` runs a step and survives its fault; `process_all` works on what came in."""

    def __init__(
        self,
        *,
        store: Store,
        tools: Tools,
        inbound: Inbound,
        clock: Clock,
        guarded: Callable[[str, Callable[[], object]], bool],
        process_all: Callable[[Account], None],
    ) -> None:
        self.account = Account()
        self._store = store
        self._tools = tools
        self._inbound = inbound
        self._clock = clock
        self._guarded = guarded
        self._process_all = process_all

    def named(self, files: tuple[Path, ...], tell: Tell) -> None:
        """Take in the files that a person named. `tell` shows progress."""
        pdfs = {file: lying_beside(file, self._tools) for file in files}
        for number, file in enumerate(each for each in files if each not in pdfs.values()):
            pdf = pdfs[file]
            companion = companion_at(pdf, self._tools) if pdf else None
            receipt = pipeline.take_in(self._store, file.read_bytes(), file.name, self._clock(), companion=companion)
            self.account.taken += not receipt.again
            self.account.again += receipt.again
            tell("taking in", number + 1, len(files))

    def inbox(self, tell: Tell) -> None:
        """Until nothing in the inbox is unfinished: a file that is being written is waited for."""
        never = threading.Event()
        with self._inbound.watching():
            while True:
                for arrival in self._inbound.settled():
                    if not self._guarded("intake", partial(self._take_one, arrival)):
                        self.account.neglected += 1
                        self.account.remarks.append(
                            "a file of the inbox could not be taken or moved; the log says why"
                        )
                    self._process_all(self.account)
                health = self._inbound.health
                unfinished = health.waiting - health.unopened
                done = self.account.taken + self.account.again
                tell("taking in", done, done + unfinished)
                if unfinished <= 0 or health.alarm or self.account.neglected:
                    self._remark(health)
                    self._inbound.tell(self._store, self._clock())
                    return
                self._inbound.wait(PAUSE, never)

    def _take_one(self, arrival: Arrival) -> None:
        taken = self._inbound.take(arrival, self._store, self._clock())
        self.account.taken += taken is Taken.NEW
        self.account.again += taken is Taken.AGAIN
        if taken is Taken.PUT_ASIDE:
            self.account.held += 1
            self.account.remarks.append("a file far too large for a recording was put aside unread")

    def _remark(self, health: InboxHealth) -> None:
        """What of the inbox could not be looked at."""
        if health.alarm:
            self.account.remarks.append(health.alarm)
        if health.unopened or health.refused:
            self.account.remarks.append(
                f"{health.unopened} files cannot be opened, {health.refused} are no files (links)"
            )
        self.account.neglected += bool(health.alarm) + health.unopened + health.refused
