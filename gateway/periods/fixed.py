"""Awake and asleep by the clock, for a recording whose sleep nobody knows."""

from datetime import time

from gateway.mapping.guideline import FixedWindows
from gateway.model import Interval
from gateway.periods.clock import Clock
from gateway.periods.spans import clipped, merged

_MINUTES = 24 * 60


def asleep_means(windows: FixedWindows, clock: Clock, frame: Interval) -> tuple[Interval, ...]:
    """Hours that count as asleep in the means."""
    return clipped(merged(clock.daily(windows.asleep.start, windows.asleep.end, frame)), frame)


def awake_means(windows: FixedWindows, clock: Clock, frame: Interval) -> tuple[Interval, ...]:
    """Hours that count as awake in the means."""
    return clipped(merged(clock.daily(windows.awake.start, windows.awake.end, frame)), frame)


def asleep_whole(windows: FixedWindows, clock: Clock, frame: Interval) -> tuple[Interval, ...]:
    """Asleep part of the full partition: hours that neither window claims go half to each side."""
    start = between(windows.awake.end, windows.asleep.start)
    end = between(windows.asleep.end, windows.awake.start)
    return clipped(merged(clock.daily(start, end, frame)), frame)


def between(low: time, high: time) -> time:
    """Clock time half-way from `low` to `high`, the shorter way round."""
    ahead = (_minute(high) - _minute(low)) % _MINUTES
    if ahead > _MINUTES // 2:
        ahead -= _MINUTES
    middle = (_minute(low) + ahead // 2) % _MINUTES
    return time(middle // 60, middle % 60)


def _minute(clock: time) -> int:
    return clock.hour * 60 + clock.minute
