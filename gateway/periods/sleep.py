"""What is known of the person's sleep: the diary, else sleep marks that the source map declares to be a diary."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from itertools import pairwise

from gateway.model import Hold, HoldReason, Interval, Reading, Recording, WindowOrigin
from gateway.model.phrase import Phrase
from gateway.periods.clock import Clock
from gateway.periods.spans import clipped, in_utc, merged, total, utc

RULE = "sleep-doubtful"
SHORTEST = timedelta(hours=3)
LONGEST = timedelta(hours=14)
_AGAIN = timedelta(hours=1)
"""sleep that goes on within an hour was an interruption, not the rising; common practice"""
_MOMENT = timedelta(minutes=1)
_BY_DAY = (time(8), time(20))


@dataclass(frozen=True, slots=True)
class Sleep:
    """Spans of sleep in UTC, in order. `open_end`: the last one goes on as far as is known."""

    spans: tuple[Interval, ...]
    origin: WindowOrigin
    open_end: bool = False


def known_sleep(recording: Recording) -> Sleep | None:
    """Sleep by diary, else by marks; None where neither says anything. Marks may say that nobody slept."""
    if recording.diary.asleep:
        return Sleep(merged(in_utc(span) for span in recording.diary.asleep), WindowOrigin.DIARY)
    marked = sorted(
        (reading for reading in recording.readings if reading.asleep_mark is not None),
        key=lambda reading: reading.at.timestamp(),
    )
    if not marked:
        return None
    open_end = marked[-1].asleep_mark is True
    return Sleep(merged(_runs(marked)), WindowOrigin.MARKED, open_end)


def _runs(marked: Sequence[Reading]) -> Iterator[Interval]:
    """From each first attempt marked asleep to the next one marked awake."""
    began: datetime | None = None
    for reading in marked:
        at = utc(reading.at)
        if reading.asleep_mark and began is None:
            began = at
        elif not reading.asleep_mark and began is not None:
            if began < at:
                yield Interval(began, at)
            began = None
    if began is not None:
        yield Interval(began, utc(marked[-1].at) + _MOMENT)


def doubt(sleep: Sleep, days: Sequence[Interval], reach: Interval) -> Hold | None:
    """Hold sleep that cannot be right: under 3 hours or over 14 hours a day, or outside the recording."""
    detail = _doubt(sleep, days, reach)
    return Hold(reason=HoldReason.SLEEP_DOUBTFUL, detail=detail, rule=RULE) if detail else None


def _doubt(sleep: Sleep, days: Sequence[Interval], reach: Interval) -> str:
    if not sleep.spans:
        return ""
    if any(not clipped([span], reach) for span in sleep.spans):
        return Phrase("a time of sleep lies outside the recording")
    per_day = [total(clipped(sleep.spans, day)) for day in days]
    if max(per_day) < SHORTEST:
        return Phrase("less than 3 hours of sleep")
    if max(per_day) > LONGEST or any(span.end - span.start > LONGEST for span in sleep.spans):
        return Phrase("more than 14 hours of sleep")
    return ""


def unknown_days(sleep: Sleep, days: Sequence[Interval]) -> tuple[int, ...]:
    """Days, from 1, of whose night nothing was said while that of another day is known: a nap, or the end of the
    night before, is not its night.
    """
    known = {n for n, day in enumerate(days, start=1) if total(clipped(sleep.spans, day)) >= SHORTEST}
    return tuple(n for n in range(1, len(days) + 1) if n not in known) if known else ()


def waking(sleep: Sleep, days: Sequence[Interval]) -> tuple[datetime, ...]:
    """Known ends of sleep within the days (UTC); not an interruption, and not where the recording ended first."""
    spans = sleep.spans[:-1] if sleep.open_end else sleep.spans
    again = {low.end for low, high in pairwise(sleep.spans) if high.start - low.end < _AGAIN}
    return tuple(span.end for span in spans if span.end not in again and any(span.end in day for day in days))


def by_day(sleep: Sleep, clock: Clock) -> bool:
    """Does the longest sleep lie mostly between 08:00 and 20:00 local time?"""
    if not sleep.spans:
        return False
    main = max(sleep.spans, key=lambda span: span.end - span.start)
    return 2 * total(clipped(clock.daily(*_BY_DAY, main), main)) > main.end - main.start
