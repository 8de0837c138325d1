"""A guideline as lines of text: every number with its citation and how sure it is."""

from collections.abc import Iterator

from gateway.mapping.guideline import (
    AdequacyRule,
    Cited,
    ClinicLimit,
    FixedWindows,
    Grade,
    Guideline,
    LoadLimit,
    PeriodLimits,
)

_ASKED = {
    "percent": "% of the scheduled readings valid",
    "awake": "valid awake",
    "asleep": "valid asleep",
    "whole": "valid in 24 hours",
    "span": "hours long",
    "per_waking_hour": "programmed in each waking hour",
}


def guideline_lines(guideline: Guideline) -> Iterator[str]:
    """One line for each number, and whom and what the guideline is for."""
    yield from _whom(guideline)
    if guideline.clinic:
        yield _with_source(f"clinic  at or above {_pair(guideline.clinic)}", guideline.clinic)
    for limits in guideline.limits:
        yield from _limits(limits)
    yield _with_source(_windows(guideline.windows), guideline.windows)
    yield _with_source(_adequacy(guideline.adequacy), guideline.adequacy)
    for load in guideline.load:
        yield _with_source(f"load {load.period}: readings at or above {_pair(load)}", load)
    yield from _approval(guideline)


def _whom(guideline: Guideline) -> Iterator[str]:
    yield f"{guideline.title} ({guideline.id}), checked on {guideline.checked_on}"
    if guideline.superseded_by:
        yield f"superseded by {guideline.superseded_by}"
    yield f"source: {guideline.citation}"
    upper = "" if guideline.highest_age is None else f" to {guideline.highest_age}"
    yield f"for: {guideline.context}, from {guideline.lowest_age}{upper} years [{guideline.lowest_age_standing}]"
    if guideline.weeks:
        yield _with_source(f"before week {guideline.weeks.before} of pregnancy", guideline.weeks)
    yield f"24-hour mean that decides: {guideline.deciding_mean}"
    yield f"periods that decide: {', '.join(guideline.deciding_periods)}"


def _limits(limits: PeriodLimits) -> Iterator[str]:
    lowest = limits.grades[0]
    yield _with_source(f"{limits.period:7} lower than that: {lowest.words}", lowest)
    for grade in limits.grades[1:]:
        mark = " (decides)" if grade.deciding else ""
        yield _with_source(f"{limits.period:7} at or above {_pair(grade)}: {grade.words}{mark}", grade)


def _pair(limit: Grade | ClinicLimit | LoadLimit) -> str:
    return f"{limit.systolic}/{limit.diastolic}"


def _windows(windows: FixedWindows) -> str:
    awake, asleep = windows.awake, windows.asleep
    return (
        f"where sleep is not known: awake {awake.start:%H:%M} to {awake.end:%H:%M}, "
        f"asleep {asleep.start:%H:%M} to {asleep.end:%H:%M}"
    )


def _adequacy(rule: AdequacyRule) -> str:
    asked = (f"{value} {words}" for name, words in _ASKED.items() if (value := getattr(rule, name)) is not None)
    return f"good enough by {rule.whose}: {', '.join(asked)}"


def _approval(guideline: Guideline) -> Iterator[str]:
    if guideline.approved_by:
        yield f"approved locally by {guideline.approved_by} on {guideline.approved_on} ({guideline.approved_source})"
    elif guideline.needs_approval:
        yield "needs local approval before production: its deciding numbers are not all verified"


def _with_source(text: str, cited: Cited) -> str:
    return f"{text} [{cited.standing}: {cited.citation}]"
