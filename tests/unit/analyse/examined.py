"""Verdicts built by hand, so that the analysis is tested apart from validation."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from gateway.mapping.guideline import (
    AdequacyRule,
    ClinicLimit,
    FixedWindow,
    FixedWindows,
    Grade,
    Guideline,
    LoadLimit,
    PeriodLimits,
    Standing,
)
from gateway.mapping.limits import ReadingLimits
from gateway.mapping.rules import Rules
from gateway.model import (
    Adequacy,
    Examined,
    Interval,
    Judged,
    Outcome,
    Period,
    PeriodCount,
    PeriodName,
    Reading,
    Recording,
    Review,
    ScheduleOrigin,
    Use,
    Verdict,
    WindowOrigin,
    Windows,
)

SEEN = {"citation": "ESC 2024, doi 10.1093/eurheartj/ehae178", "standing": Standing.VERIFIED}


def grade(name: str, systolic: int | None, diastolic: int | None, **more: Any) -> Grade:
    upper = None if systolic is None else Decimal(systolic)
    lower = None if diastolic is None else Decimal(diastolic)
    more.setdefault("words", name.replace("-", " "))
    return Grade(id=name, systolic=upper, diastolic=lower, **more, **SEEN)


def limits(period: PeriodName, *grades: Grade) -> PeriodLimits:
    return PeriodLimits(period=period, grades=grades)


def three(period: PeriodName, low: tuple[int, int], high: tuple[int, int]) -> PeriodLimits:
    return limits(
        period,
        grade("non-elevated", None, None, flag="N"),
        grade("elevated", *low),
        grade("at-or-above-limit", *high, deciding=True, flag="H"),
    )


def a_guideline(**changes: Any) -> Guideline:
    """Limits of ESC 2024 (Eur Heart J 2024;45:3912 and pubmed 40249369)."""
    parts: dict[str, Any] = {
        "id": "esc-2024",
        "title": "2024 ESC Guidelines for the management of elevated blood pressure and hypertension",
        "short": "ESC 2024",
        "edition": "2024",
        "citation": "Eur Heart J 2024;45:3912",
        "checked_on": date(2026, 1, 1),
        "limits": (
            three(PeriodName.WHOLE, (115, 65), (130, 80)),
            three(PeriodName.AWAKE, (120, 70), (135, 85)),
            three(PeriodName.ASLEEP, (110, 60), (120, 70)),
        ),
        "deciding_periods": (PeriodName.WHOLE, PeriodName.AWAKE, PeriodName.ASLEEP),
        "clinic": ClinicLimit(systolic=Decimal(140), diastolic=Decimal(90), **SEEN),
        "windows": FixedWindows(
            awake=FixedWindow(start=time(9), end=time(21)), asleep=FixedWindow(start=time(1), end=time(6)), **SEEN
        ),
        "adequacy": AdequacyRule(whose="ESC 2024", percent=70, awake=20, asleep=7, **SEEN),
        "load": tuple(
            LoadLimit(period=period, systolic=Decimal(upper), diastolic=Decimal(lower), **SEEN)
            for period, upper, lower in (
                (PeriodName.WHOLE, 130, 80),
                (PeriodName.AWAKE, 135, 85),
                (PeriodName.ASLEEP, 120, 70),
            )
        ),
    }
    return Guideline(**{**parts, **changes})


def rules_with(guideline: Guideline | None = None, **more: Any) -> Rules:
    return Rules(
        guideline=guideline or a_guideline(), limits=ReadingLimits(id="widest", title="Widest limits"), **more
    )


def after(start: datetime, span: timedelta) -> datetime:
    """Real time later, on the same local clock."""
    return datetime.fromtimestamp(start.timestamp() + span.total_seconds(), tz=start.tzinfo)


def windows_of(recording: Recording, days: int = 1, **changes: Any) -> Windows:
    """Whole days from the first attempt, parted by the diary."""
    periods: list[Period] = []
    for day in range(1, days + 1):
        start, end = (after(recording.began, timedelta(hours=24 * n)) for n in (day - 1, day))
        asleep = [
            Interval(max(span.start, start), min(span.end, end))
            for span in recording.diary.asleep
            if span.start < end and span.end > start
        ]
        edges = [start, *(moment for span in asleep for moment in (span.start, span.end)), end]
        awake = [Interval(low, high) for low, high in zip(edges[::2], edges[1::2], strict=True) if low < high]
        spans = {PeriodName.WHOLE: [Interval(start, end)], PeriodName.AWAKE: awake, PeriodName.ASLEEP: asleep}
        periods.extend(
            Period(name=name, day=day, means=tuple(found), whole=tuple(found))
            for name, found in spans.items()
            if found
        )
    parts: dict[str, Any] = {
        "periods": tuple(periods),
        "origin": WindowOrigin.DIARY,
        "waking": tuple(span.end for span in recording.diary.asleep),
    }
    return Windows(**{**parts, **changes})


def judge(reading: Reading) -> Judged:
    if reading.outcome is Outcome.FAILED:
        return Judged(reading=reading, use=Use.FAILED, rule="failed", why="no pressure")
    return Judged(reading=reading, use=Use.VALID)


def adequacy_of(windows: Windows, judged: Sequence[Judged], **changes: Any) -> Adequacy:
    """A verdict of "adequate" with true counts; the tests state what else they want."""
    valid = [found.reading.at for found in judged if found.use is Use.VALID]
    least = {PeriodName.WHOLE: 1, PeriodName.AWAKE: 8, PeriodName.ASLEEP: 4}
    counts = []
    number: dict[PeriodName, int] = {}
    for period in windows.periods:
        inside = sum(period.counts(at) for at in valid)
        number[period.name] = inside
        counts.append(
            PeriodCount(
                period=period.name,
                day=period.day,
                scheduled=max(inside, 1),
                attempted=inside,
                valid=inside,
                excluded=0,
                failed=0,
                percent=Decimal(100),
                gaps=(),
                filed=inside >= least[period.name],
                adequate=inside >= least[period.name],
            )
        )
    parts: dict[str, Any] = {
        "verdict": Verdict.ADEQUATE,
        "rule": "ESC 2024",
        "schedule": ScheduleOrigin.GIVEN,
        "reasons": (),
        "counts": tuple(counts),
        "dip_ready": number.get(PeriodName.AWAKE, 0) >= 20 and number.get(PeriodName.ASLEEP, 0) >= 7,
    }
    return Adequacy(**{**parts, **changes})


def examined_of(
    recording: Recording,
    days: int = 1,
    windows: Windows | None = None,
    adequacy: dict[str, Any] | None = None,
    **changes: Any,
) -> Examined:
    found = windows or windows_of(recording, days)
    judged = tuple(judge(reading) for reading in recording.readings)
    parts: dict[str, Any] = {
        "judged": judged,
        "findings": (),
        "review": Review(),
        "windows": found,
        "adequacy": adequacy_of(found, judged, **(adequacy or {})),
        "hold": None,
    }
    return Examined(**{**parts, **changes})
