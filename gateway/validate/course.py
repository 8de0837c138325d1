"""What the course of the recording shows once its windows are known: gaps, an early end, a sparse programme."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from gateway.mapping.guideline import AdequacyRule, Standing
from gateway.model import Adequacy, Finding, Interval, PeriodName, Recording, ScheduleOrigin, Windows
from gateway.model.phrase import Phrase, joined
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
            Phrase(
                "The readings stop after {span}; {planned} were planned.",
                span=in_words(last - plan.start),
                planned=in_words(plan.end - plan.start),
            ),
        )


def without_readings(course: Course) -> Iterator[Finding]:
    """Every stretch of two hours and more without a valid reading."""
    found = [gap for count in course.adequacy.counts if count.period is PeriodName.WHOLE for gap in count.gaps]
    if found:
        spans = joined(", ", (_clock(gap) for gap in found))
        yield caution("gaps", Phrase("No valid reading for 2 hours or more: {spans}.", spans=spans))


def _clock(gap: Interval) -> Phrase:
    start, end = f"{gap.start:%H:%M}", f"{gap.end:%H:%M}"
    if gap.end.date() == gap.start.date():
        return Phrase("{start} to {end}", start=start, end=end)
    return Phrase("{start} to {end} on {day}", start=start, end=end, day=gap.end.date())


def past_the_days(course: Course) -> Iterator[Finding]:
    """Readings that lie in no day of the recording count nowhere."""
    whole = [period for period in course.windows.periods if period.name is PeriodName.WHOLE]
    last = max(utc(period.whole[-1].end) for period in whole)
    late = [reading for reading in course.recording.readings if utc(reading.at) >= last]
    if late:
        text = Phrase("Readings after {hours} hours count in no average.", hours=24 * len(whole))
        yield note("past-the-day", text, rows_of(late))


def sleep_known(course: Course) -> Iterator[Finding]:
    """Without any sleep everything counts as awake; a day that alone has none goes by the clock."""
    days = {period.day for period in course.windows.periods}
    slept = {period.day for period in course.windows.periods if period.name is PeriodName.ASLEEP}
    if not slept:
        yield caution("no-sleep", Phrase("No sleep lies within the recording: all of it counts as awake."))
        return
    for day in sorted(days - slept):
        yield caution("no-sleep", Phrase("Day {day}: no sleep is known: all of it counts as awake.", day=day))
    for day in course.windows.by_clock:
        text = Phrase("Day {day}: no sleep is known; awake and asleep go by fixed clock times.", day=day)
        yield caution("no-sleep", text)


def programme_known(course: Course) -> Iterator[Finding]:
    """How the programme became known, where the file does not say it whole."""
    plan = course.plan
    if plan.overruled:
        differs = Phrase("Readings come more often than the programme in the file says.")
        yield caution("programme-differs", differs)
    if plan.passed is not None:
        hours = (plan.end - plan.start) // timedelta(hours=1)
        yield caution(
            "programme-passed",
            Phrase(
                "Readings go on after the {passed} hours that were planned; {hours} hours are taken as planned.",
                passed=plan.passed,
                hours=hours,
            ),
        )
    if plan.origin is ScheduleOrigin.INFERRED:
        text = "Intervals of {day} minutes were inferred from the times."
        if plan.nights:
            text = "Intervals of {day} minutes by day and {night} minutes by night were inferred from the times."
        yield note("programme-inferred", Phrase(text, day=plan.day, night=plan.night))
    elif plan.origin is ScheduleOrigin.GIVEN and plan.nights and plan.day != plan.night and not plan.by_clock:
        unsaid = Phrase("The file does not say when the night interval began; the time asleep is used.")
        yield note("programme-hours", unsaid)


def programme_dense(course: Course) -> Iterator[Finding]:
    """A programme sparser while awake than the rule asks for."""
    least, minutes = course.rule.per_waking_hour, course.plan.day
    if least is not None and minutes is not None and least * minutes > 60:
        yield caution(
            "programme-sparse",
            Phrase(
                "One reading every {minutes} minutes awake; {whose} asks for {least} in every waking hour.",
                minutes=minutes,
                whose=Phrase(course.rule.whose),
                least=least,
            ),
        )


def rule_seen(course: Course) -> Iterator[Finding]:
    """A rule that was not seen at its source is said to be so."""
    if course.rule.standing is not Standing.VERIFIED:
        text = "The rule of {whose} for a good enough recording is known by memory only."
        if course.rule.standing is Standing.SECONDARY:
            text = "The rule of {whose} for a good enough recording is known in a secondary source only."
        yield note("adequacy-rule", Phrase(text, whose=Phrase(course.rule.whose)))


COURSE_RULES = (
    ended_early,
    without_readings,
    past_the_days,
    sleep_known,
    programme_known,
    programme_dense,
    rule_seen,
)
