"""Can the times be right? Everything is compared as real instants."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from itertools import pairwise

from gateway.model import HoldReason, Outcome, Reading, Recording
from gateway.model.phrase import Phrase
from gateway.validate.case import Case, Doubt, Remark, caution, named_rows, note, rows_of
from gateway.validate.words import in_words

_YEARS = range(1970, 2200)
"""outside these a clock was never set; arithmetic on times stays far from its ends"""
_WAIVABLE_LENGTH = timedelta(days=14)
_PAST_PLAN = timedelta(hours=4)
"""a monitor that is brought back late has been worn a few hours longer; common practice"""


def believable(case: Case) -> Iterator[Remark]:
    """Every time of the recording lies in years that a set clock can show."""
    if any(instant.year not in _YEARS for instant in _instants(case.recording)):
        yield Doubt(
            rule="time-unbelievable",
            reason=HoldReason.TIME_DOUBTFUL,
            detail=Phrase("a year that cannot be"),
            waivable=False,
            timeless=True,
        )


def _instants(recording: Recording) -> Iterator[datetime]:
    yield from (reading.at for reading in recording.readings)
    yield from (edge for span in recording.diary.asleep for edge in (span.start, span.end))
    yield from (at for at in (recording.schedule.fitted_at, recording.schedule.removed_at) if at is not None)


def rising(case: Case) -> Iterator[Remark]:
    """Times rise from row to row. Two attempts may share one time (a failed one and its repeat within a minute), but
    two measured pressures may not.
    """
    backward, same, noted = list[int](), list[int](), list[int]()
    before, measured = float("-inf"), set[float]()
    for reading in case.recording.readings:
        at = reading.at.timestamp()
        if at < before:
            backward.append(reading.row)
        elif at == before:
            # a failed attempt in between does not make two pressures at one time any better
            (same if _measured(reading) and at in measured else noted).append(reading.row)
        before = at
        if _measured(reading):
            measured.add(at)
    if backward or same:
        rows = named_rows(backward or same)
        detail = rows if backward else Phrase("two readings at one time, {rows}", rows=rows)
        yield Doubt(
            rule="time-not-rising",
            reason=HoldReason.TIME_NOT_RISING,
            detail=detail,
            rows=tuple(backward or same),
        )
    if noted:
        yield note("time-shared", Phrase("Two attempts carry the same time."), noted)


def _measured(reading: Reading) -> bool:
    return reading.outcome is Outcome.MEASURED


def not_in_future(case: Case) -> Iterator[Remark]:
    """No reading later than now and a little slack for clocks that differ."""
    latest = case.now.timestamp() + case.rules.time.future_slack.total_seconds()
    late = [reading for reading in case.recording.readings if reading.at.timestamp() > latest]
    if late:
        yield Doubt(rule="time-in-future", reason=HoldReason.TIME_IN_FUTURE, rows=rows_of(late))


def not_too_long(case: Case) -> Iterator[Remark]:
    """Longer than one recording can be: two recordings in one file, or day and month exchanged."""
    span, longest = _span(case.recording), case.rules.time.longest
    if span <= longest:
        return
    if _exchanged(case.recording, longest):
        yield Doubt(
            rule="time-day-month",
            reason=HoldReason.TIME_DOUBTFUL,
            detail=Phrase("{days} days; with day and month exchanged it would be one recording", days=span.days),
            waivable=False,
            timeless=True,
        )
        return
    waivable = span <= _WAIVABLE_LENGTH
    yield Doubt(
        rule="recording-too-long",
        reason=HoldReason.RECORDING_TOO_LONG,
        detail=Phrase("{span}, at most {most} are expected", span=in_words(span), most=in_words(longest)),
        waivable=waivable,
        timeless=True,
    )


def _exchanged(recording: Recording, longest: timedelta) -> bool:
    """Would all dates be possible, and the length be right, with day and month exchanged?"""
    turned = []
    for reading in recording.readings:
        at = reading.at
        if at.day > 12:
            return False
        turned.append(datetime.combine(date(at.year, at.day, at.month), at.time(), tzinfo=at.tzinfo).timestamp())
    return max(turned) - min(turned) <= longest.total_seconds()


def unbroken(case: Case) -> Iterator[Remark]:
    """A stretch without any attempt, failed ones included: a monitor that is worn tries, and notes that it failed.

    In a recording that goes on hours past its plan it is the sign of a monitor that was handed on without being
    cleared; in one of the planned length somebody took the cuff off, which the verdict on the readings shows.
    """
    longest = case.rules.time.longest_break
    times = sorted(reading.at.timestamp() for reading in case.recording.readings)
    widest = max((after - before for before, after in pairwise(times)), default=0.0)
    if longest is None or widest < longest.total_seconds():
        return
    said = in_words(timedelta(seconds=widest))
    planned = case.recording.schedule.planned or 24  # hours, any number that a file may hold
    if case.rules.time.hold_break and (_span(case.recording) - _PAST_PLAN) / timedelta(hours=1) > planned:
        yield Doubt(
            rule="recording-broken",
            reason=HoldReason.RECORDING_BROKEN,
            detail=Phrase("{span} without an attempt", span=said),
        )
    else:
        yield caution(
            "recording-broken", Phrase("In the middle, {span} passed without an attempt of the monitor.", span=said)
        )


def not_too_old(case: Case) -> Iterator[Remark]:
    """A recording that ended long ago is headed historical; in the normal inbox a person says whether it is meant."""
    if not historical(case):
        return
    days = case.rules.time.historical_after.days
    if case.rules.time.hold_historical:
        yield Doubt(
            rule="recording-too-old",
            reason=HoldReason.RECORDING_TOO_OLD,
            detail=Phrase("more than {days} days ago", days=days),
        )
    else:
        yield caution("recording-too-old", Phrase("The recording ended more than {days} days ago.", days=days))


def historical(case: Case) -> bool:
    """Did the recording end longer ago than the site's limit?"""
    past = case.now.timestamp() - case.recording.ended.timestamp()
    return past > case.rules.time.historical_after.total_seconds()


def fitting_plausible(case: Case) -> Iterator[Remark]:
    """Times of fitting and removal that do not go with the readings are not used, and that is said."""
    schedule, recording = case.recording.schedule, case.recording
    if schedule.fitted_at is not None:
        early = recording.began.timestamp() - schedule.fitted_at.timestamp()
        if not 0 <= early <= timedelta(hours=24).total_seconds():
            said = Phrase("The time of fitting does not go with the readings and is not used.")
            yield caution("fitting-time", said)
    if schedule.removed_at is not None and schedule.removed_at.timestamp() < recording.ended.timestamp():
        said = Phrase("Readings go on after the time at which the monitor was taken off.")
        yield caution("removal-time", said)


def zone_configured(case: Case) -> Iterator[Remark]:
    """A zone that nobody configured is said."""
    if case.recording.source.zone_origin == "assumed":
        zone = case.recording.zone or Phrase("an unnamed zone")
        yield note("zone-assumed", Phrase("The time zone was not configured; {zone} is assumed.", zone=zone))


def reader_remarks(case: Case) -> Iterator[Remark]:
    """What the reader noticed goes on to the result."""
    for remark in case.recording.source.remarks:
        yield note("reader-remark", remark)


def _span(recording: Recording) -> timedelta:
    return timedelta(seconds=recording.ended.timestamp() - recording.began.timestamp())


TIMING_RULES = (
    believable,
    rising,
    not_in_future,
    not_too_long,
    not_too_old,
    unbroken,
    fitting_plausible,
    zone_configured,
    reader_remarks,
)
