"""What the plot shows, gathered from recording and summary: no drawing yet."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cached_property

from gateway.analyse import hourly_means
from gateway.model import (
    DiaryNote,
    Interval,
    Judged,
    NoteKind,
    PeriodName,
    Recording,
    Subject,
    Summary,
    Use,
)
from gateway.report.clock import HOUR, ClockChange, LocalClock, clock_of

LONGEST_SHOWN = timedelta(hours=54)
MOST_NOTES = 8
TOLD_FIRST = (NoteKind.MEDICATION, NoteKind.SYMPTOM)
BRIDGED = timedelta(hours=2)
"""valid readings further apart than this are not joined by a line"""


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of waking or sleep with the limit (systolic, diastolic in mmHg) that holds in it."""

    period: PeriodName
    interval: Interval
    limit: tuple[Decimal, Decimal] | None


@dataclass(frozen=True, slots=True)
class HourMean:
    """Means of one hour since the day began, in tenths of mmHg: the hours that make the 24-hour mean."""

    start: datetime
    systolic: float
    diastolic: float


@dataclass(frozen=True)
class Scene:
    """Everything on the plot. `start` and `end` are full local hours. Without slots: what is asked often is kept."""

    clock: LocalClock
    start: datetime
    end: datetime
    valid: tuple[Judged, ...]
    others: tuple[Judged, ...]
    spans: tuple[Span, ...]
    hours: tuple[HourMean, ...]
    notes: tuple[DiaryNote, ...]

    @cached_property
    def began(self) -> float:
        """Seconds since 1970 of the left edge."""
        return self.start.timestamp()

    @cached_property
    def seconds(self) -> float:
        """Real time across the plot."""
        return self.end.timestamp() - self.began

    @cached_property
    def changes(self) -> tuple[ClockChange, ...]:
        """Changes of the local clock on the plot."""
        return self.clock.changes(self.start, self.end)

    @property
    def asleep(self) -> tuple[Interval, ...]:
        """Stretches of sleep."""
        return tuple(span.interval for span in self.spans if span.period is PeriodName.ASLEEP)

    @cached_property
    def stretches(self) -> tuple[tuple[Judged, ...], ...]:
        """Valid readings in runs without a long gap."""
        runs: list[list[Judged]] = []
        for judged in self.valid:
            near = runs and _since(runs[-1][-1].reading.at, judged.reading.at) <= BRIDGED
            if near:
                runs[-1].append(judged)
            else:
                runs.append([judged])
        return tuple(tuple(run) for run in runs)


def scene_of(recording: Recording, summary: Summary) -> Scene:
    """Gather what is drawn."""
    clock = clock_of(recording)
    judged = sorted(summary.judged, key=lambda one: one.reading.at.timestamp())
    valid = tuple(one for one in judged if _drawn(one))
    start, end = _extent(recording, summary, clock)
    return Scene(
        clock=clock,
        start=start,
        end=end,
        valid=valid,
        others=tuple(one for one in judged if not _drawn(one)),
        spans=_spans(summary),
        hours=tuple(
            HourMean(hour.start.astimezone(UTC), 10 * float(hour.systolic), 10 * float(hour.diastolic))
            for hour in hourly_means(summary.judged, summary.windows)
        ),
        notes=told_notes(recording),
    )


def told_notes(recording: Recording) -> tuple[DiaryNote, ...]:
    """The diary notes that are marked and listed, in order of time: a mark that no list explains helps nobody.

    Where there are too many, medication and symptoms go first.
    """
    ranked = sorted(recording.diary.notes, key=lambda note: (note.kind not in TOLD_FIRST, note.at.timestamp()))
    return tuple(sorted(ranked[:MOST_NOTES], key=lambda note: note.at.timestamp()))


def _drawn(judged: Judged) -> bool:
    reading = judged.reading
    return judged.use is Use.VALID and reading.systolic is not None and reading.diastolic is not None


def limit_of(summary: Summary, period: PeriodName, day: int = 1) -> tuple[Decimal, Decimal] | None:
    """Systolic and diastolic limit that the summary held this period against, None where it did not."""
    found = [summary.interpretation(subject, period, day) for subject in (Subject.SYSTOLIC, Subject.DIASTOLIC)]
    values = [one.limit.value for one in found if one is not None and one.limit is not None]
    return (values[0], values[1]) if len(values) == 2 else None


def _since(earlier: datetime, later: datetime) -> timedelta:
    return timedelta(seconds=later.timestamp() - earlier.timestamp())


def _spans(summary: Summary) -> tuple[Span, ...]:
    return tuple(
        Span(period.name, interval, limit_of(summary, period.name, period.day))
        for period in summary.windows.periods
        if period.name is not PeriodName.WHOLE
        for interval in period.whole
    )


def _extent(recording: Recording, summary: Summary, clock: LocalClock) -> tuple[datetime, datetime]:
    start = clock.local(recording.began).replace(minute=0, second=0, microsecond=0).astimezone(UTC)
    ends = [one.end for period in summary.windows.periods for one in period.whole]
    last = max([recording.ended, *ends], key=lambda at: at.timestamp()).astimezone(UTC)
    last = min(max(last, start + HOUR), start + LONGEST_SHOWN)
    whole_hours = -((start - last) // HOUR)
    return start, start + whole_hours * HOUR
