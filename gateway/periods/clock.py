"""Local clock times and instants of one recording."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from gateway.model import Interval, Recording
from gateway.periods.spans import clipped, utc


@dataclass(frozen=True, slots=True)
class Clock:
    """The clock on the wall where the person was."""

    zone: tzinfo

    def local(self, instant: datetime) -> datetime:
        """The instant with its local offset, fixed, so that later arithmetic on it is real time."""
        shown = instant.astimezone(self.zone)
        return shown.replace(tzinfo=timezone(shown.utcoffset() or timedelta()), fold=0)

    def of(self, span: Interval) -> Interval:
        """The span with the local offset of each end."""
        return Interval(self.local(span.start), self.local(span.end))

    def at(self, day: date, clock: time) -> datetime:
        """Instant (UTC) at which that clock time is shown; the first of two, and for a time that the clocks skip
        the instant as if they had not gone forward.
        """
        return datetime.combine(day, clock.replace(tzinfo=None), tzinfo=self.zone).astimezone(UTC)

    def daily(self, start: time, end: time, frame: Interval) -> Iterator[Interval]:
        """The span [start, end) of every local day that touches the frame; an end not after the start lies on the
        next day.
        """
        day = utc(frame.start).astimezone(self.zone).date() - timedelta(days=1)
        last = utc(frame.end).astimezone(self.zone).date()
        over_midnight = timedelta(days=1) if end <= start else timedelta()
        while day <= last:
            low, high = self.at(day, start), self.at(day + over_midnight, end)
            if low < high:
                yield Interval(low, high)
            day += timedelta(days=1)


def clock_of(recording: Recording) -> Clock:
    """The recording's zone; where each reading carries only its own offset, that of the first one."""
    if recording.zone is not None:
        try:
            return Clock(ZoneInfo(recording.zone))
        except (ZoneInfoNotFoundError, ValueError, OSError):
            pass  # the readings are aware all the same
    own = recording.began.tzinfo
    if isinstance(own, ZoneInfo):
        return Clock(own)
    return Clock(timezone(recording.began.utcoffset() or timedelta()))


def nightly(recording: Recording, start: time, end: time, frame: Interval) -> tuple[Interval, ...]:
    """The daily local span [start, end) within the frame (UTC), by the recording's own clock."""
    return clipped(clock_of(recording).daily(start, end, frame), frame)
