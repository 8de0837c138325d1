"""Which days a recording has: day 1 is the first scheduled attempt and the 24 hours of real time after it."""

from datetime import datetime, timedelta

from gateway.model import Interval, Kind, Outcome, Recording
from gateway.periods.spans import utc

DAY = timedelta(hours=24)
_ENOUGH_OF_A_DAY = timedelta(hours=12)
"""a later day counts as one of its own only when readings reach half-way into it; common practice"""

_PLANNED = range(1, 201)
"""hours; more than that no monitor is set to"""


COUNTED = (Kind.SCHEDULED, Kind.REPEAT)
"""attempts of the programme; a press of the button says nothing about how long the monitor was worn"""


def first_scheduled(recording: Recording) -> datetime:
    """First attempt by the programme; the first of all where there is none such."""
    programmed = [reading.at for reading in recording.readings if reading.kind is Kind.SCHEDULED]
    return min(programmed, key=datetime.timestamp) if programmed else recording.began


def last_counted(recording: Recording, *, measured: bool = False) -> datetime:
    """Last attempt of the programme, or the last that gave a pressure; the last of all where there is none such."""
    programmed = [
        reading.at
        for reading in recording.readings
        if reading.kind in COUNTED and (reading.outcome is Outcome.MEASURED or not measured)
    ]
    return max(programmed, key=datetime.timestamp) if programmed else recording.ended


def days(recording: Recording) -> tuple[Interval, ...]:
    """The days in order, in UTC. A recording of 25 hours has one day, one of 48 hours has two. Attempts that all
    failed add no day: the monitor lay on a table.
    """
    start, last = utc(first_scheduled(recording)), utc(last_counted(recording, measured=True))
    found = [Interval(start, start + DAY)]
    while last - found[-1].end >= _ENOUGH_OF_A_DAY:
        found.append(Interval(found[-1].end, found[-1].end + DAY))
    return tuple(found)


def reach(recording: Recording) -> Interval:
    """Where sleep may lie: from the fitting to the end of the last day, the planned end or the removal."""
    schedule, whole = recording.schedule, days(recording)
    starts, ends = [utc(recording.began), whole[0].start], [utc(recording.ended), whole[-1].end]
    if schedule.fitted_at is not None:
        starts.append(utc(schedule.fitted_at))
    if schedule.planned is not None and schedule.planned in _PLANNED:
        ends.append(whole[0].start + timedelta(hours=schedule.planned))
    if schedule.removed_at is not None:
        ends.append(utc(schedule.removed_at))
    return Interval(min(starts), max(ends))
