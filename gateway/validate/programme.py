"""What the monitor was set to do: the intervals, when each holds, and the readings that were due."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from statistics import median_low

from gateway.mapping.rules import Rules
from gateway.model import Interval, Kind, PeriodName, Recording, ScheduleOrigin, Windows
from gateway.periods import days, first_scheduled, in_utc, last_counted, nightly, outside, utc, within

_INTERVALS = range(1, 241)
"""minutes; anything else is no programme"""
_AGREE = 80
_WITHIN = timedelta(minutes=2)
_FEWEST_GAPS = 4
_PAUSE = timedelta(minutes=5)
"""an attempt this soon after another one is its repeat, whatever the file calls it; common practice"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """Intervals in minutes, None where unknown. The night interval holds in `nights`, the day interval elsewhere;
    `by_clock`: the file says from which times on, else they go with awake and asleep. Readings are due from `start`
    to `end` (exclusive). `overruled`: the file states a longer interval than its own times show; `passed`: hours that
    it states as planned and that readings go on after, else None. All UTC.
    """

    origin: ScheduleOrigin
    day: int | None
    night: int | None
    nights: tuple[Interval, ...]
    by_clock: bool
    start: datetime
    end: datetime
    overruled: bool = False
    passed: int | None = None

    @property
    def apart(self) -> timedelta:
        """Two attempts that are not this far apart fill one slot: the second one is a repeat."""
        known = [minutes for minutes in (self.day, self.night) if minutes is not None]
        return timedelta(minutes=min(known)) / 2 if known else _PAUSE

    def interval(self, at: datetime) -> int | None:
        """Minutes to the next reading that is due."""
        return self.night if within(at, self.nights) else self.day

    def due(self) -> tuple[datetime, ...] | None:
        """Instants at which readings were due, None where that is not known."""
        if self.origin is ScheduleOrigin.UNKNOWN:
            return None
        found: list[datetime] = []
        at = self.start
        while at < self.end:
            found.append(at)
            minutes = self.interval(at)
            if minutes is None:
                return None
            at += timedelta(minutes=minutes)
        return tuple(found)


def programme(recording: Recording, windows: Windows, rules: Rules) -> Programme:
    """The programme as given, or as inferred where 80 per cent of gaps agree within 2 minutes, else unknown."""
    schedule = recording.schedule
    start, end, passed = due_from_to(recording, rules)
    frame = Interval(start, end)
    nights, by_clock = _nights(recording, windows, frame)
    times = _programmed(recording)
    day = _chosen(schedule.interval_day, _seen(times, outside(nights, frame)), schedule.interval_night)
    night = _chosen(schedule.interval_night, _seen(times, nights), schedule.interval_day)
    needed = [day, night] if nights else [day]
    if any(choice.minutes is None for choice in needed):
        origin = ScheduleOrigin.UNKNOWN
    else:
        origin = ScheduleOrigin.INFERRED if any(choice.seen for choice in needed) else ScheduleOrigin.GIVEN
    return Programme(
        origin=origin,
        day=day.minutes,
        night=night.minutes,
        nights=nights,
        by_clock=by_clock,
        start=start,
        end=end,
        overruled=any(choice.overruled for choice in needed),
        passed=passed,
    )


@dataclass(frozen=True, slots=True)
class _Choice:
    minutes: int | None
    seen: bool = False
    overruled: bool = False


def _chosen(given: int | None, seen: int | None, other: int | None) -> _Choice:
    """A clearly shorter interval that the times show wins over the given one, or half of the readings could be
    missing and the share still look whole. It is no contradiction where it is the other given interval.
    """
    if given is None or given not in _INTERVALS:
        return _Choice(seen, seen=seen is not None)
    if seen is None or timedelta(minutes=given - seen) <= _WITHIN:
        return _Choice(given)
    is_other = other is not None and abs(timedelta(minutes=other - seen)) <= _WITHIN
    return _Choice(other) if is_other else _Choice(seen, seen=True, overruled=True)


def _nights(recording: Recording, windows: Windows, frame: Interval) -> tuple[tuple[Interval, ...], bool]:
    """Where the night interval holds, and whether by the programme's own clock times."""
    schedule = recording.schedule
    if schedule.day_from and schedule.night_from and schedule.day_from != schedule.night_from:
        return nightly(recording, schedule.night_from, schedule.day_from, frame), True
    asleep = [span for p in windows.periods if p.name is PeriodName.ASLEEP for span in p.whole]
    return tuple(in_utc(span) for span in asleep), False


def due_from_to(recording: Recording, rules: Rules) -> tuple[datetime, datetime, int | None]:
    """From fitting (the first scheduled attempt where that is unknown or cannot be) to the planned end, in UTC.

    Third: the planned hours, where the readings go on well after them and whole days are taken instead.
    """
    start, fitted = utc(first_scheduled(recording)), recording.schedule.fitted_at
    if fitted is not None and timedelta() <= utc(recording.began) - utc(fitted) <= timedelta(hours=24):
        start = utc(fitted)
    planned, longest = recording.schedule.planned, rules.time.longest // timedelta(hours=1)
    whole = 24 * len(days(recording))
    if planned is None or not 1 <= planned <= longest:
        return start, start + timedelta(hours=whole), None
    end = start + timedelta(hours=planned)
    # one reading at the planned end closes the programme
    if planned < whole and utc(last_counted(recording, measured=True)) - end > _PAUSE:
        return start, start + timedelta(hours=whole), planned
    return start, end, None


def _seen(times: Sequence[datetime], spans: Sequence[Interval]) -> int | None:
    """Whole minutes that at least 80 per cent of the gaps within the spans agree on, within 2 minutes."""
    gaps = [high - low for span in spans for low, high in pairwise(at for at in times if span.start <= at < span.end)]
    if len(gaps) < _FEWEST_GAPS:
        return None
    middle = median_low(gaps)
    agree = [gap for gap in gaps if abs(gap - middle) <= _WITHIN]
    minutes = round(sum(agree, timedelta()) / len(agree) / timedelta(minutes=1))
    return minutes if 100 * len(agree) >= _AGREE * len(gaps) and minutes in _INTERVALS else None


def _programmed(recording: Recording) -> tuple[datetime, ...]:
    """Attempts by the programme in order (UTC), without those that follow within a short pause."""
    times = sorted(utc(reading.at) for reading in recording.readings if reading.kind is Kind.SCHEDULED)
    return tuple(spaced(times, _PAUSE))


def spaced(times: Sequence[datetime], apart: timedelta) -> Iterator[datetime]:
    """Those of the times (UTC, in order) that come no sooner than `apart` after the one kept before."""
    last: datetime | None = None
    for at in times:
        if last is None or at - last >= apart:
            yield at
            last = at
