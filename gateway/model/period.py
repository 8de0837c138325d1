"""Spans of time within a recording."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class Interval:
    """Half-open span [start, end) of real time; both ends are aware instants that keep their local offset."""

    start: datetime
    end: datetime

    def __post_init__(self) -> None:
        if self.start.utcoffset() is None or self.end.utcoffset() is None:
            raise ValueError("an interval needs aware instants")
        if not self.start.timestamp() < self.end.timestamp():
            raise ValueError("an interval ends after it starts")

    def __contains__(self, instant: datetime) -> bool:
        # two values of one zone are compared by the clock on the wall, which is wrong in the hour that comes twice
        return self.start.timestamp() <= instant.timestamp() < self.end.timestamp()

    @property
    def length(self) -> timedelta:
        """Real elapsed time, right across a clock change (zone-aware subtraction alone is not)."""
        return timedelta(seconds=self.end.timestamp() - self.start.timestamp())


class PeriodName(StrEnum):
    """The three periods a clinician reads."""

    WHOLE = "24h"
    AWAKE = "awake"
    ASLEEP = "asleep"


class WindowOrigin(StrEnum):
    """Where the awake and asleep windows came from, best first."""

    DIARY = "diary"
    MARKED = "marked"
    SITE = "site"
    GUIDELINE = "guideline"


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """One period of one day of the recording.

    `means` are the intervals whose readings enter the statistics; `whole` is the full awake/asleep partition
    (or the whole day) by which readings are counted. They differ only where narrow windows are in use.
    `day` is 1 for the first 24 hours, 2 for the second.
    """

    name: PeriodName
    day: int
    means: tuple[Interval, ...]
    whole: tuple[Interval, ...]

    def holds(self, instant: datetime) -> bool:
        """Does a reading at this instant enter the statistics of the period?"""
        return any(instant in interval for interval in self.means)

    def counts(self, instant: datetime) -> bool:
        """Does a reading at this instant count towards the adequacy of the period?"""
        return any(instant in interval for interval in self.whole)


@dataclass(frozen=True, slots=True, kw_only=True)
class Windows:
    """All periods of a recording, in order of day and name, and how they were found.

    `waking` are the known instants of waking (from a diary or a declared diary mark); empty when only fixed
    windows are known. `sleep_by_day` says that the main sleep lies mostly between 08:00 and 20:00 local time.
    `by_clock` are days of which no sleep is known although that of another day is: they are cut by fixed clock
    times (`clock_origin`: whose), and `origin` speaks of the other days.
    """

    periods: tuple[Period, ...]
    origin: WindowOrigin
    waking: tuple[datetime, ...] = ()
    sleep_by_day: bool = False
    by_clock: tuple[int, ...] = ()
    clock_origin: WindowOrigin = WindowOrigin.GUIDELINE

    def origin_of(self, day: int) -> WindowOrigin:
        """Where the windows of one day came from."""
        return self.clock_origin if day in self.by_clock else self.origin
