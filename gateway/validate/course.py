"""What the course of the recording shows once its windows are known: gaps, an early end, a sparse programme."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from gateway.mapping.guideline import AdequacyRule, Standing
from gateway.model import Adequacy, Finding, Interval, PeriodName, Recording, ScheduleOrigin, Windows
from gateway.periods import last_counted, utc
from gateway.validate.case import caution, note, rows_of
from gateway.validate.gaps import LEAST
from gateway.validate.programme import Programme
from gateway.validate.words import in_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A recording with its windows, programme and verdict."""

    recording: Recording
    windows: Windows
    plan: Programme
    adequacy: Adequacy
    rule: AdequacyRule


def ended_early(course: Course) -> Iterator[Finding]:
    """Readings stop two hours or more before the planned end: never to be taken for a full day."""
    last, plan = utc(last_counted(course.recording, measured=True)), course.plan
    if plan.end - last >= LEAST:
        yield caution(
            "ended-early",
            f"The readings stop after {in_words(last - plan.start)}; {in_words(plan.end - plan.start)} were planned.",
        )


def without_readings(course: Course) -> Iterator[Finding]:
    """Every stretch of two hours and more without a valid reading."""
    found = [gap for count in course.adequacy.counts if count.period is PeriodName.WHOLE for gap in count.gaps]
    if found:
        spans = ", ".join(_clock(gap) for gap in found)
        yield caution("gaps", f"No valid reading for 2 hours or more: {spans}.")


def _clock(gap: Interval) -> str:
    other_day = gap.end.date() != gap.start.date()
    return f"{gap.start:%H:%M} to {gap.end:%H:%M}" + (f" on {gap.end:%Y-%m-%d}" if other_day else "")


def past_the_days(course: Course) -> Iterator[Finding]:
    """Readings that lie in no day of the recording count nowhere."""
    whole = [period for period in course.windows.periods if period.name is PeriodName.WHOLE]
    last = max(utc(period.whole[-1].end) for period in whole)
    late = [reading for reading in course.recording.readings if utc(reading.at) >= last]
    if late:
        yield note("past-the-day", f"Readings after {24 * len(whole)} hours count in no average.", rows_of(late))


def sleep_known(course: Course) -> Iterator[Finding]:
    """Without any sleep everything counts as awake; a day that alone has none goes by the clock."""
    days = {period.day for period in course.windows.periods}
    slept = {period.day for period in course.windows.periods if period.name is PeriodName.ASLEEP}
    if not slept:
        yield caution("no-sleep", "No sleep lies within the recording: all of it counts as awake.")
        return
    for day in sorted(days - slept):
        yield caution("no-sleep", f"Day {day}: no sleep is known: all of it counts as awake.")
    for day in course.windows.by_clock:
        yield caution("no-sleep", f"Day {day}: no sleep is known; awake and asleep go by fixed clock times.")


def programme_known(course: Course) -> Iterator[Finding]:
    """How the programme became known, where the file does not say it whole."""
    plan = course.plan
    if plan.overruled:
        yield caution("programme-differs", "Readings come more often than the programme in the file says.")
    if plan.passed is not None:
        hours = (plan.end - plan.start) // timedelta(hours=1)
        yield caution(
            "programme-passed",
            f"Readings go on after the {plan.passed} hours that were planned; {hours} hours are taken as planned.",
        )
    if plan.origin is ScheduleOrigin.INFERRED:
        parts = [f"{plan.day} minutes" + (" by day" if plan.nights else "")]
        if plan.nights:
            parts.append(f"{plan.night} minutes by night")
        yield note("programme-inferred", f"Intervals of {' and '.join(parts)} were inferred from the times.")
    elif plan.origin is ScheduleOrigin.GIVEN and plan.nights and plan.day != plan.night and not plan.by_clock:
        yield note("programme-hours", "The file does not say when the night interval began; the time asleep is used.")


def programme_dense(course: Course) -> Iterator[Finding]:
    """A programme sparser while awake than the rule asks for."""
    least, minutes = course.rule.per_waking_hour, course.plan.day
    if least is not None and minutes is not None and least * minutes > 60:
        yield caution(
            "programme-sparse",
            f"One reading every {minutes} minutes awake; {course.rule.whose} asks for {least} in every waking hour.",
        )


def rule_seen(course: Course) -> Iterator[Finding]:
    """A rule that was not seen at its source is said to be so."""
    if course.rule.standing is not Standing.VERIFIED:
        where = "in a secondary source only" if course.rule.standing is Standing.SECONDARY else "by memory only"
        yield note("adequacy-rule", f"The rule of {course.rule.whose} for a good enough recording is known {where}.")


COURSE_RULES = (
    ended_early,
    without_readings,
    past_the_days,
    sleep_known,
    programme_known,
    programme_dense,
    rule_seen,
)
