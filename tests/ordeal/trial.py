"""The ordeal itself: feeds the inboxes, switches the faults, kills, restarts, and plays the person who decides."""

import random
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime

from scenario.record import RecordServer

from gateway.cli.options import ExitCode
from gateway.errors import StoreError
from gateway.model import DeliveryState, HoldReason, RecordingState
from gateway.store import HeldItem, Store
from tests.databases import Place
from tests.ordeal.files import File
from tests.ordeal.weather import Weather
from tests.ordeal.workers import Worker

MOST_WAITING = 60
"""Files in an inbox at once; the rest waits outside."""
TICK = 0.05
STANDING_BY = 8.0
"""Seconds after which a worker that another one kept out tries again."""
IN_THE_START = 0.01
"""Chance, at each look, that a worker is killed before it works."""
MUST_WAIT = frozenset({HoldReason.RECORDING_CHANGED, HoldReason.PERSON_NOT_FOUND, HoldReason.FILE_ENCODING})
"""Holds that are right here; everything else that is held gets released, as a person would after the trouble."""


@dataclass
class Counts:
    """What was done to the gateway."""

    kills: int = 0
    releases: int = 0
    server_restarts: int = 0
    database_restarts: int = 0
    weathers: int = 0


@dataclass(kw_only=True)
class Trial:
    """`restart_database` None: there is no database server. `stuck_after`: seconds without any progress."""

    workers: list[Worker]
    place: Place
    record: RecordServer
    weather: Weather
    files: deque[File]
    kills_wanted: int
    chance: random.Random
    say: Callable[[str], None]
    restart_database: Callable[[], None] | None = None
    feed_until: float | None = None
    dies_for_good: Worker | None = None
    stuck_after: float = 300
    counts: Counts = field(default_factory=Counts)
    dropped: list[File] = field(default_factory=list)

    def run(self) -> None:
        """Until everything that was dropped is settled and the kills are done, as far as work is left for them."""
        total = len(self.files)
        later = _Later(self.chance)
        progress, progressed, open_ = -1.0, time.monotonic(), -1
        while True:
            now = time.monotonic()
            self._feed()
            settled = len(self.dropped) - self._in_inboxes() - max(open_, 0)
            done = settled / (total if self.files else len(self.dropped))
            if later.due("look", 3, 5):
                open_, progress_now = self._look(), done
                if progress_now != progress:
                    progress, progressed = progress_now, now
                if not self.files and open_ == 0 and self._in_inboxes() == 0:
                    break
                assert now - progressed < self.stuck_after, (
                    f"no progress for {self.stuck_after:.0f} s: {self._state()}"
                )
            self._kill_and_start(now, done)
            self._change_the_world(later, done)
            if later.due("say", 30, 30):
                self.say(f"{len(self.dropped)} of {total} files, {open_} open, {self.counts.kills} kills")
            time.sleep(TICK)
        for worker in self.workers:
            worker.stop()

    def _feed(self) -> None:
        if self.feed_until is not None and time.monotonic() > self.feed_until:
            self.files.clear()
        for worker in {worker.inbox: worker for worker in self.workers}.values():
            while self.files and len(list(worker.inbox.glob("[0-9]*"))) < MOST_WAITING:
                file = self.files.popleft()
                half = worker.inbox / f"{file.name}.part"
                half.write_bytes(file.content)
                half.rename(worker.inbox / file.name)
                self.dropped.append(file)
                if self.chance.random() < 0.3:
                    break

    def _kill_and_start(self, now: float, done: float) -> None:
        for worker in self.workers:
            if worker.gone:
                continue
            if not worker.alive:
                refused = worker.process is not None and worker.process.exitcode == ExitCode.WRONG_USE
                if now - worker.began > (STANDING_BY if refused else 0.0):
                    worker.start(now)
            elif worker.kill_at is None:
                if worker.working or self.chance.random() < IN_THE_START:
                    worker.kill_at = now + self.chance.uniform(0, 4)
            elif now > worker.kill_at and self.counts.kills < self.kills_wanted * (done + 0.02):
                worker.kill()
                self.counts.kills += 1
        last = self.dies_for_good
        if last is not None and not last.gone and done > 0.4 and last.alive:
            last.kill()
            last.gone = True
            self.counts.kills += 1
            self.say(f"{last.name} died for good")

    def _change_the_world(self, later: "_Later", done: float) -> None:
        """Weather, restarts; near the end the sky is clear, so that the end can come."""
        if self.files or done < 0.97:
            if later.due("weather", 0.5, 5):
                self.weather.change()
                self.counts.weathers += 1
            if later.due("record", 60, 120):
                self.record.stop()
                self.record.start()
                self.counts.server_restarts += 1
            if self.restart_database and later.due("database", 45, 90):
                self.restart_database()
                self.counts.database_restarts += 1
        else:
            self.weather.clear_up()
        if later.due("person", 3, 6):
            with suppress(StoreError):
                self._decide()

    def _decide(self) -> None:
        """A person releases what the trouble put on hold, and time passes: what waits for its next try is due, a
        record server has rested long enough after its failures, and a node that died for good has been silent for as
        long as its leases last.
        """
        now = datetime.now(UTC)
        with Store.open(self.place.address) as store:
            for item in store.held():
                if not _rightly(item):
                    store.release(item.id, "O. Quillby", "the trouble is over", now)
                    self.counts.releases += 1
        micro = int(now.timestamp() * 1e6)
        with suppress(Exception):  # the database is locked or away: another time
            self.place.execute(f"UPDATE deliveries SET due = {micro} WHERE state = 'waiting' AND due > {micro}")
            self.place.execute("DELETE FROM health WHERE name LIKE 'circuit %'")
            if self.dies_for_good is not None and self.dies_for_good.gone:
                for table in ("deliveries", "recordings", "arrivals"):
                    whose = f"worker LIKE '{self.dies_for_good.name}.%'"
                    self.place.execute(f"UPDATE {table} SET lease_until = 0 WHERE {whose} AND lease_until > 0")

    def _look(self) -> int:
        """How much is under way in the store; -1 where it cannot be asked now."""
        with suppress(StoreError), Store.open(self.place.address) as store:
            counts = store.counts()
            wrongly = sum(not _rightly(item) for item in store.held())
            return (
                counts.recordings.get(RecordingState.RECEIVED, 0)
                + counts.deliveries.get(DeliveryState.WAITING, 0)
                + counts.deliveries.get(DeliveryState.SENDING, 0)
                + wrongly
            )
        return -1

    def _in_inboxes(self) -> int:
        return sum(len(list(inbox.glob("[0-9]*"))) for inbox in {worker.inbox for worker in self.workers})

    def _state(self) -> str:
        return f"{self._in_inboxes()} in inboxes, {self._look()} open, {self.counts}"


class _Later:
    """Things that happen again after a random time."""

    def __init__(self, chance: random.Random) -> None:
        self._chance = chance
        self._at: dict[str, float] = {}

    def due(self, what: str, least: float, most: float) -> bool:
        now = time.monotonic()
        if what in self._at and now < self._at[what]:
            return False
        first = what not in self._at
        self._at[what] = now + self._chance.uniform(least, most)
        return not first


def _rightly(item: HeldItem) -> bool:
    return item.reason in MUST_WAIT
