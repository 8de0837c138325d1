"""The patient's clock over the recording: local times of any instant, and where the clock was changed."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from gateway.model import Recording

HOUR = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class ClockChange:
    """At `at` (UTC) the local clock jumped by `minutes` (negative: back)."""

    at: datetime
    minutes: int


@dataclass(frozen=True, slots=True)
class LocalClock:
    """`zone` None: offsets are those that the readings carry, in order of time."""

    zone: ZoneInfo | None
    carried: tuple[datetime, ...]

    def local(self, instant: datetime) -> datetime:
        """The instant on the patient's clock."""
        if self.zone is not None:
            return instant.astimezone(self.zone)
        nearest = next((at for at in reversed(self.carried) if at <= instant), self.carried[0])
        return instant.astimezone(nearest.tzinfo)

    def hours(self, start: datetime, end: datetime) -> Iterator[datetime]:
        """Every full local hour from `start` to `end`, both included."""
        instant = self.local(start).replace(minute=0, second=0, microsecond=0).astimezone(UTC)
        while instant <= end:
            if instant >= start:
                yield self.local(instant)
            instant += HOUR

    def changes(self, start: datetime, end: datetime) -> tuple[ClockChange, ...]:
        """Changes of the offset between two instants, found to the minute."""
        found: list[ClockChange] = []
        instant = start.astimezone(UTC)
        while instant < end:
            later = min(instant + HOUR, end.astimezone(UTC))
            before, after = self._offset(instant), self._offset(later)
            if before != after:
                found.append(ClockChange(self._first_with(after, instant, later), _minutes(after - before)))
            instant = later
        return tuple(found)

    def _offset(self, instant: datetime) -> timedelta:
        return self.local(instant).utcoffset() or timedelta(0)

    def _first_with(self, offset: timedelta, start: datetime, end: datetime) -> datetime:
        instant = start.replace(second=0, microsecond=0)
        while instant < end and self._offset(instant) != offset:
            instant += timedelta(minutes=1)
        return instant


def clock_of(recording: Recording) -> LocalClock:
    """The clock that the recording was kept by."""
    carried = tuple(sorted(reading.at for reading in recording.readings))
    return LocalClock(ZoneInfo(recording.zone) if recording.zone else None, carried)


def _minutes(span: timedelta) -> int:
    return round(span.total_seconds() / 60)
