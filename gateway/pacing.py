"""May something be sent to a destination now? Its hours, its rate, and whether its server rests after failures."""

import threading
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from gateway.deliver.circuit import USUAL, CircuitRule, Passage, after, passage, probing
from gateway.model import Answer
from gateway.model.circuit import Circuit, resting
from gateway.store import Store

Heard = Callable[[str, Circuit, Circuit], None]
"""Is told when a circuit opened or closed: the destination, before, after."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How fast and when one destination wants its deliveries. `per_minute` None: as fast as it answers. `hours`:
    spans of the local day [begin, end), an end before its begin runs past midnight; empty: always.
    """

    zone: ZoneInfo
    per_minute: int | None = None
    at_once: int = 1
    hours: tuple[tuple[time, time], ...] = ()
    circuit: CircuitRule = USUAL

    def within_hours(self, now: datetime) -> bool:
        """Is this one of its hours?"""
        local = now.astimezone(self.zone).time()
        return not self.hours or any(_within(local, begin, end) for begin, end in self.hours)


def _within(local: time, begin: time, end: time) -> bool:
    return begin <= local < end if begin < end else local >= begin or local < end


class Gates:
    """The gates of all destinations; safe to use from several threads. The rate counts for this process, the
    circuit for everybody who shares the store.
    """

    def __init__(self, store: Store, paces: Mapping[str, Pace], heard: Heard) -> None:
        self._store = store
        self._paces = paces
        self._heard = heard
        self._lock = threading.Lock()
        self._free_from: dict[str, datetime] = {}

    def enter(self, names: Collection[str], now: datetime) -> dict[str, Circuit | None]:
        """The destinations that may be sent to now; for one that is only probed, its circuit as it was before this
        probe was taken. `leave` must follow.
        """
        return {name: probe for name in names for entered, probe in [self._entered(name, now)] if entered}

    def leave(self, passes: Mapping[str, Circuit | None], chosen: str | None, now: datetime) -> None:
        """What was claimed, None for nothing: a probe that nobody used stays possible."""
        for name, before in passes.items():
            if name != chosen and before is not None:
                unused = replace(before, until=now)
                self._store.change_circuit(name, lambda _, unused=unused: unused, now)  # type: ignore[misc]
        per_minute = self._paces[chosen].per_minute if chosen else None
        if chosen and per_minute:
            with self._lock:
                self._free_from[chosen] = now + self._left(chosen, now) + timedelta(minutes=1) / per_minute

    def answered(self, name: str, recording_id: str, answer: Answer, now: datetime) -> None:
        """What the server answered decides whether the next are tried."""
        rule = self._paces[name].circuit
        seen = self._store.circuit(name)
        if after(seen, answer, recording_id, now, rule) == seen:
            return  # the usual case costs no writing
        old, new = self._store.change_circuit(
            name, lambda circuit: after(circuit, answer, recording_id, now, rule), now
        )
        if (old.until is None) != (new.until is None):
            self._heard(name, old, new)
            if new.until is None:
                self._store.due_now(name, now)

    def wait_for_rate(self, name: str, now: datetime) -> float:
        """Seconds until the rate lets the next one go; 0.0: now, or something else than the rate stops it."""
        if not self._paces[name].within_hours(now) or self._store.circuit(name).until is not None:
            return 0.0
        with self._lock:
            return self._left(name, now).total_seconds()

    def stopped_by(self, name: str, now: datetime) -> str:
        """In plain words, why nothing is sent to it now; "" when something may be."""
        circuit = self._store.circuit(name)
        if passage(circuit, now) is Passage.NONE and circuit.until is not None:
            return f"{resting(circuit)}; one is tried after {circuit.until:%H:%M:%S} UTC"
        return "" if self._paces[name].within_hours(now) else "it is sent to only in its own hours"

    def rests(self, name: str) -> bool:
        """Is it left alone because its server failed?"""
        return self._store.circuit(name).until is not None

    def _entered(self, name: str, now: datetime) -> tuple[bool, Circuit | None]:
        pace = self._paces[name]
        with self._lock:
            early = self._left(name, now) > timedelta(0)
        if early or not pace.within_hours(now):
            return False, None
        circuit = self._store.circuit(name)
        may = passage(circuit, now)
        if may is not Passage.PROBE:
            return may is Passage.ALL, None
        before, changed = self._store.change_circuit(
            name, lambda found: probing(found, now, pace.circuit) if found == circuit else found, now
        )
        return before == circuit and changed != before, before

    def _left(self, name: str, now: datetime) -> timedelta:
        """Until the rate lets the next one go. More than all that may be on their way at once was counted by a clock
        that stood ahead.
        """
        pace = self._paces[name]
        left = self._free_from.get(name, now) - now
        longest = (pace.at_once + 1) * timedelta(minutes=1) / (pace.per_minute or 1)
        return left if timedelta(0) < left <= longest else timedelta(0)
