"""The loop: inbox, processing, deliveries, signed heads; until told to stop."""

import threading
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from gateway import pipeline
from gateway.deliver import Recipient
from gateway.delivering import Unanswered
from gateway.errors import StoreMovedOn
from gateway.intake import Tools
from gateway.model import Event, EventKind
from gateway.model.circuit import Circuit, resting
from gateway.operate.logs import Log
from gateway.pacing import Gates, Pace
from gateway.service.account import Account
from gateway.service.draining import drain
from gateway.service.inbound import Inbound, Taken
from gateway.service.lookout import Lookout
from gateway.service.pdfs import companion_at, lying_beside
from gateway.service.presence import Presence
from gateway.service.sealing import Sealing
from gateway.service.telling import Telling
from gateway.service.ticking import Ticking
from gateway.service.troubles import STORE, Clock, Troubles
from gateway.store import Store
from gateway.watch import Arrival, InboxHealth

IDLE = 1.0
"""Seconds between looks for work that nobody announced (a release on the command line, a due retry)."""
FAULT_PAUSE = 5.0
TELL_EVERY = 10.0
"""Seconds between two words about the inbox, while many files are taken from it."""
Tell = Callable[[str, int, int], None]


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
        servers: Mapping[str, Recipient],
        inbound: Inbound,
        sealing: Sealing,
        worker: str,
        log: Log,
        telling: Telling | None = None,
        paces: Mapping[str, Pace],
        presence: Presence,
        troubles: Troubles,
        clock: Clock = now,
    ) -> None:
        self._telling = telling
        self._tracing = telling.tracing if telling else None
        self._presence = presence
        self._moved_on: StoreMovedOn | None = None
        self._troubles = troubles
        self._clock = clock
        self._ticking = Ticking(store, log, clock)
        self._stop = threading.Event()
        self._told = 0.0
        self._store = store
        self._tools = tools
        self._servers = servers
        self._inbound = inbound
        self._sealing = sealing
        self._worker = worker
        self._log = log
        self._lookout = Lookout(store, servers, log)
        self._news = threading.Condition()
        self._at_once = {name: pace.at_once for name, pace in paces.items()}
        self._gates = Gates(store, paces, self._rests)
        self._unanswered = Unanswered()

    def run(self, stop: threading.Event) -> None:
        """Work until `stop` is set; the step in hand is finished first.

        Raises StoreMovedOn where a newer version took the store over: this one stops, and leaves its work in it.
        """
        self._stop = stop
        self._say(EventKind.STARTED, {"software": self._tools.software, "destinations": sorted(self._servers)})
        threads = [
            threading.Thread(target=self._deliveries, args=(name, stop), name=f"deliver {name}")
            for name, number in self._at_once.items()
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
        account = Account()
        if files:
            self._take_named(files, account, tell)
        else:
            self._take_inbox(account, tell)
        self._process_all(account)
        due = sum(self._store.counts().deliveries.values())
        tell("delivering", 0, due)

        def sent_one(sent: pipeline.Sent) -> None:
            account.add(sent.answer)
            self._inbound.answered(sent, self._store)
            tell("delivering", account.delivered + account.held + account.postponed, due)

        drain(self._at_once, self._send, self._wait_for_rate, sent_one)
        self._stopped(account)
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

    def _take_named(self, files: tuple[Path, ...], account: Account, tell: Tell) -> None:
        pdfs = {file: lying_beside(file, self._tools) for file in files}
        for number, file in enumerate(each for each in files if each not in pdfs.values()):
            pdf = pdfs[file]
            companion = companion_at(pdf, self._tools) if pdf else None
            receipt = pipeline.take_in(self._store, file.read_bytes(), file.name, now(), companion=companion)
            account.taken += not receipt.again
            account.again += receipt.again
            tell("taking in", number + 1, len(files))

    def _take_inbox(self, account: Account, tell: Tell) -> None:
        """Until nothing in the inbox is unfinished: a file that is being written is waited for."""
        never = threading.Event()
        with self._inbound.watching():
            while True:
                for arrival in self._inbound.settled():
                    if not self._guarded("intake", partial(self._take_one, arrival, account)):
                        account.neglected += 1
                        account.remarks.append("a file of the inbox could not be taken or moved; the log says why")
                    self._process_all(account)
                health = self._inbound.health
                unfinished = health.waiting - health.unopened
                done = account.taken + account.again
                tell("taking in", done, done + unfinished)
                if unfinished <= 0 or health.alarm or account.neglected:
                    self._remark(health, account)
                    self._inbound.tell(self._store, self._clock())
                    return
                self._inbound.wait(IDLE, never)

    def _take_one(self, arrival: Arrival, account: Account) -> None:
        taken = self._inbound.take(arrival, self._store, self._clock())
        account.taken += taken is Taken.NEW
        account.again += taken is Taken.AGAIN
        if taken is Taken.PUT_ASIDE:
            account.held += 1
            account.remarks.append("a file far too large for a recording was put aside unread")

    def _remark(self, health: InboxHealth, account: Account) -> None:
        """What of the inbox could not be looked at."""
        if health.alarm:
            account.remarks.append(health.alarm)
        if health.unopened or health.refused:
            account.remarks.append(f"{health.unopened} files cannot be opened, {health.refused} are no files (links)")
        account.neglected += bool(health.alarm) + health.unopened + health.refused

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
            self._guarded(f"access to {name}", lambda: self._lookout.look(name, self._clock()))
            with self._news:
                if not stop.is_set():
                    self._news.wait(IDLE)

    def _send(self, name: str) -> pipeline.Sent | None:
        """Make the next delivery to one destination."""
        servers = {name: self._servers[name]}
        return pipeline.deliver_next(
            self._store, servers, self._worker, self._clock, self._tracing, self._gates, self._unanswered
        )

    def _wait_for_rate(self, name: str) -> float:
        """Seconds, where only the rate stops what is due."""
        moment = self._clock()
        seconds = self._gates.wait_for_rate(name, moment)
        due = self._store.next_due(moment, {name}) if seconds else None
        return seconds if due is not None and due <= moment else 0.0

    def _stopped(self, account: Account) -> None:
        """What waits because nothing may be sent to its destination now."""
        moment = self._clock()
        for state in self._store.overview(moment).destinations:
            if state.waiting and state.destination in self._servers:
                if said := self._gates.stopped_by(state.destination, moment):
                    account.remarks.append(f"{state.waiting} wait for {state.destination}: {said}")
                account.unreachable = account.unreachable or self._gates.rests(state.destination)

    def _rests(self, name: str, before: Circuit, after: Circuit) -> None:
        if after.until is not None:
            self._log.warning("destination rests", destination=name, said=resting(after))
        else:
            self._log.info("destination answers again", destination=name, said=f"it was {resting(before)}")

    def _deliver_all(self, name: str, stop: threading.Event) -> None:
        while not stop.is_set():
            sent = self._send(name)
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
