"""The loop: inbox, processing, deliveries, signed heads; until told to stop."""

import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from gateway import pipeline
from gateway.errors import StoreMovedOn
from gateway.intake import Tools
from gateway.model import Event, EventKind
from gateway.operate.logs import Log
from gateway.service.account import Account
from gateway.service.draining import drain
from gateway.service.inbound import Inbound
from gateway.service.once import OnePass, Tell
from gateway.service.outbound import Outbound
from gateway.service.presence import Presence
from gateway.service.sealing import Sealing
from gateway.service.telling import Telling
from gateway.service.ticking import Ticking
from gateway.service.troubles import STORE, Clock, Troubles
from gateway.store import Store

IDLE = 1.0
"""Seconds between looks for work that nobody announced (a release on the command line, a due retry)."""
FAULT_PAUSE = 5.0
TELL_EVERY = 10.0
"""Seconds between two words about the inbox, while many files are taken from it."""


def now() -> datetime:
    """The wall clock; the only place that the flow gets it from."""
    return datetime.now(UTC)


class Service:
    """The parts, turning together. One thread takes files in and processes them; each destination has its own."""

    def __init__(
        self,
        *,
        store: Store,
        tools: Tools,
        inbound: Inbound,
        outbound: Outbound,
        sealing: Sealing,
        worker: str,
        log: Log,
        telling: Telling | None = None,
        presence: Presence,
        troubles: Troubles,
        clock: Clock = now,
    ) -> None:
        self._telling = telling
        self._presence = presence
        self._moved_on: StoreMovedOn | None = None
        self._troubles = troubles
        self._clock = clock
        self._ticking = Ticking(store, log, clock)
        self._stop = threading.Event()
        self._told = 0.0
        self._store = store
        self._tools = tools
        self._inbound = inbound
        self._sealing = sealing
        self._outbound = outbound
        self._worker = worker
        self._log = log
        self._news = threading.Condition()

    def run(self, stop: threading.Event) -> None:
        """Work until `stop` is set; the step in hand is finished first.

        Raises StoreMovedOn where a newer version took the store over: this one stops, and leaves its work in it.
        """
        self._stop = stop
        self._say(EventKind.STARTED, {"software": self._tools.software, "destinations": self._outbound.names})
        threads = [
            threading.Thread(target=self._deliveries, args=(name, stop), name=f"deliver {name}")
            for name, number in self._outbound.at_once.items()
            for _ in range(number)
        ]
        if self._telling:
            threads.append(threading.Thread(target=self._telling.run, args=(stop,), name="telling"))
        for thread in threads:
            thread.start()
        with self._inbound.watching():
            while not stop.is_set() and not self._moved_on:
                if not self._turn():
                    stop.wait(FAULT_PAUSE)
                self._inbound.wait(IDLE, stop)
        stop.set()
        self._announce()
        for thread in threads:
            thread.join()
        if self._moved_on:
            raise self._moved_on
        self._say(EventKind.STOPPED, {})
        self._guarded("stopping", self._presence.leave)
        self._guarded("stopping", self._seal)

    def once(self, files: tuple[Path, ...], tell: Tell) -> Account:
        """One pass: the inbox (or the named files), then everything that is due. `tell` shows progress."""
        taking = OnePass(
            store=self._store,
            tools=self._tools,
            inbound=self._inbound,
            clock=self._clock,
            guarded=self._guarded,
            process_all=self._process_all,
        )
        account = taking.account
        if files:
            taking.named(files, tell)
        else:
            taking.inbox(tell)
        self._process_all(account)
        due = sum(self._store.counts().deliveries.values())
        tell("delivering", 0, due)

        def sent_one(sent: pipeline.Sent) -> None:
            account.add(sent.answer)
            self._inbound.answered(sent, self._store)
            tell("delivering", account.delivered + account.held + account.postponed, due)

        drain(self._outbound.at_once, self._outbound.send, self._outbound.wait_for_rate, sent_one)
        self._outbound.told_why(account)
        self._inbound.keep_notices(self._store)
        if self._telling and (left := self._telling.once()):
            account.remarks.append(left)
        self._seal()
        account.waiting = len(self._store.held())
        return account

    def _turn(self) -> bool:
        """One look at everything that the first thread answers for. False where the work itself cannot go on now."""
        good = self._guarded("signs of life", self._presence.beat) and self._take_all()
        if good:
            self._guarded("clock", self._ticking.look)
            self._guarded("inbox", partial(self._inbound.catch_up, self._store))
            self._guarded("inbox", partial(self._inbound.tell, self._store, self._clock()))
            self._guarded("notices", partial(self._inbound.keep_notices, self._store))
            self._guarded("audit heads", self._seal)
        self._troubles.look()
        return good

    def _take_all(self) -> bool:
        """The files of the inbox, oldest first, each worked on before the next; and what else is to be worked on.
        False when the store cannot be used: then nothing more is tried, and every file stays where it is.
        """
        arrivals = self._inbound.settled()
        for left, arrival in zip(range(len(arrivals) - 1, -1, -1), arrivals, strict=True):
            if self._stop.is_set():
                return True
            taken = self._guarded("intake", partial(self._inbound.take, arrival, self._store, self._clock()))
            if not taken and self._troubles.lasts(STORE):
                return False
            if not self._guarded("intake", self._process_all):
                return False
            self._tell_now_and_then(left)
        return self._guarded("intake", self._process_all)

    def _tell_now_and_then(self, left: int) -> None:
        """While thousands are taken in, `status` knows how many still lie there."""
        if time.monotonic() - self._told >= TELL_EVERY:
            self._told = time.monotonic()
            self._guarded("inbox", partial(self._inbound.tell, self._store, self._clock(), left))
            self._guarded("audit heads", self._seal)
            self._troubles.look()

    def _seal(self) -> None:
        self._sealing.seal(self._store, self._clock())

    def _process_all(self, account: Account | None = None) -> None:
        while not self._stop.is_set():
            processed = pipeline.process_next(self._store, self._tools, self._worker, self._clock())
            if processed is None:
                return
            placed = self._guarded("intake", partial(self._inbound.place, processed))
            self._presence.beat()
            self._log.info("processed", recording=processed.recording_id, **_reason(processed))
            for destination, said in processed.unclaimed:
                self._log.info(
                    "profile not claimed", recording=processed.recording_id, destination=destination, said=said
                )
            if account is not None and not placed:
                account.neglected += 1
                account.remarks.append("a file could not be moved out of the inbox; the log says why")
            if account is not None and processed.hold is not None:
                account.held += 1
                account.remarks.append(f"held: {processed.hold.sentence} What to do: {processed.hold.action}")
            self._announce()

    def _announce(self) -> None:
        with self._news:
            self._news.notify_all()

    def _deliveries(self, name: str, stop: threading.Event) -> None:
        """A thread of one destination."""
        while not stop.is_set():
            if not self._guarded(f"delivery to {name}", lambda: self._deliver_all(name, stop)):
                stop.wait(FAULT_PAUSE)
            self._guarded(f"access to {name}", lambda: self._outbound.look(name))
            with self._news:
                if not stop.is_set():
                    self._news.wait(IDLE)

    def _deliver_all(self, name: str, stop: threading.Event) -> None:
        while not stop.is_set():
            sent = self._outbound.send(name)
            if sent is None:
                return
            outcome = type(sent.answer).__name__
            self._log.info("delivery", outcome=outcome, destination=sent.destination, recording=sent.recording_id)
            self._guarded(f"delivery to {name}", partial(self._inbound.answered, sent, self._store))
            self._guarded("audit heads", self._seal)

    def _guarded(self, part: str, step: Callable[[], object]) -> bool:
        """Run one step; a fault (full disk, lost right, our own mistake) is told and survived. False after it."""
        try:
            step()
        except StoreMovedOn as error:
            self._moved_on = error
            self._troubles.met(part, error)
            return False
        except Exception as error:  # a thread that ended quietly would look like a healthy service
            self._troubles.met(part, error)
            return False
        return True

    def _say(self, kind: EventKind, detail: dict[str, object]) -> None:
        self._guarded(
            kind.value,
            lambda: self._store.record(Event(kind=kind, at=self._clock(), actor=self._worker, detail=detail)),
        )
        self._log.info(kind.value)


def _reason(processed: pipeline.Processed) -> dict[str, str]:
    return {"reason": processed.hold.reason.value} if processed.hold is not None else {}
