"""The tables below the course: numbers per period, numbers of the whole recording, every reading."""

from collections.abc import Callable

from gateway.model import (
    Judged,
    Kind,
    Outcome,
    Period,
    PeriodName,
    Recording,
    Statistic,
    StatisticName,
    Summary,
    Use,
)
from gateway.model import StatisticName as N
from gateway.report.clock import LocalClock, clock_of
from gateway.report.headline import Json, days_of, ordered, period_label
from gateway.report.scene import limit_of
from gateway.report.text import number, plain, tenths
from gateway.report.words import Words

Row = tuple[str, tuple[StatisticName, ...], str]

LOADS = (N.SYSTOLIC_LOAD, N.DIASTOLIC_LOAD)
PERIOD_ROWS: tuple[Row, ...] = (
    ("row-mean", (N.SYSTOLIC_MEAN, N.DIASTOLIC_MEAN), "unit-mmhg"),
    ("row-hourly", (N.SYSTOLIC_MEAN_HOURLY, N.DIASTOLIC_MEAN_HOURLY), "unit-mmhg"),
    ("row-maximum", (N.SYSTOLIC_MAXIMUM, N.DIASTOLIC_MAXIMUM), "unit-mmhg"),
    ("row-minimum", (N.SYSTOLIC_MINIMUM, N.DIASTOLIC_MINIMUM), "unit-mmhg"),
    ("row-sd", (N.SYSTOLIC_SD, N.DIASTOLIC_SD), "unit-mmhg"),
    ("row-arv", (N.SYSTOLIC_ARV, N.DIASTOLIC_ARV), "unit-mmhg"),
    ("row-load", LOADS, "unit-percent"),
    ("row-pulse-pressure", (N.PULSE_PRESSURE_MEAN,), "unit-mmhg"),
    ("row-heart-rate", (N.HEART_RATE_MEAN,), "unit-per-minute"),
    ("row-heart-rate-range", (N.HEART_RATE_MINIMUM, N.HEART_RATE_MAXIMUM), "unit-per-minute"),
)
"""on the first page"""
FURTHER_ROWS: tuple[Row, ...] = (
    ("row-mean-pressure", (N.MEAN_PRESSURE_MEAN,), "unit-mmhg"),
    ("row-mean-pressure-derived", (N.MEAN_PRESSURE_DERIVED,), "unit-mmhg"),
    ("row-cv", (N.SYSTOLIC_CV, N.DIASTOLIC_CV), "unit-percent"),
    ("row-arv-weighted", (N.SYSTOLIC_ARV_WEIGHTED, N.DIASTOLIC_ARV_WEIGHTED), "unit-mmhg"),
    ("row-heart-rate-hourly", (N.HEART_RATE_MEAN_HOURLY,), "unit-per-minute"),
    ("row-heart-rate-sd", (N.HEART_RATE_SD,), "unit-per-minute"),
    ("row-double-product", (N.DOUBLE_PRODUCT_MEAN,), "unit-product"),
)
"""with every reading, after the first page: nobody decides on these"""
WHOLE_ROWS: tuple[Row, ...] = (
    ("row-dip", (N.SYSTOLIC_DIP, N.DIASTOLIC_DIP), "unit-percent"),
    ("row-heart-rate-dip", (N.HEART_RATE_DIP,), "unit-percent"),
    ("row-sd-weighted", (N.SYSTOLIC_SD_WEIGHTED, N.DIASTOLIC_SD_WEIGHTED), "unit-mmhg"),
    ("row-surge-sleep-trough", (N.SURGE_SLEEP_TROUGH,), "unit-mmhg"),
    ("row-surge-pre-waking", (N.SURGE_PRE_WAKING,), "unit-mmhg"),
)
FURTHER_WHOLE_ROWS: tuple[Row, ...] = (
    ("row-morning", (N.MORNING_MEAN,), "unit-mmhg"),
    ("row-first-hour", (N.FIRST_HOUR_SYSTOLIC_MEAN, N.FIRST_HOUR_DIASTOLIC_MEAN), "unit-mmhg"),
    ("row-mesor", (N.SYSTOLIC_MESOR, N.DIASTOLIC_MESOR), "unit-mmhg"),
    ("row-amplitude", (N.SYSTOLIC_AMPLITUDE, N.DIASTOLIC_AMPLITUDE), "unit-mmhg"),
    ("row-peak-time", (N.SYSTOLIC_PEAK_TIME, N.DIASTOLIC_PEAK_TIME), "unit-hours"),
    ("row-rhythm-f", (N.SYSTOLIC_RHYTHM_F, N.DIASTOLIC_RHYTHM_F), ""),
    ("row-rhythm-p", (N.SYSTOLIC_RHYTHM_P, N.DIASTOLIC_RHYTHM_P), ""),
    ("row-aasi", (N.AASI,), ""),
    ("row-aasi-symmetric", (N.AASI_SYMMETRIC,), ""),
)
MARKS = "abcdefghijklmnopqrstuvwxyz"


class Reasons:
    """Numbers that could not be computed share one lettered line per reason below the tables."""

    def __init__(self, said: str) -> None:
        """`said`: how every reason begins, which is said once for all of them."""
        self._said = f"{said[:1].lower()}{said[1:]} "
        self._letters: dict[str, str] = {}

    def mark(self, reason: str) -> str:
        """The letter of a reason, new or known."""
        return self._letters.setdefault(reason, MARKS[len(self._letters) % len(MARKS)])

    @property
    def lines(self) -> list[list[str]]:
        """Letter and reason, in order of first use."""
        return [[letter, plain(reason.removeprefix(self._said), 160)] for reason, letter in self._letters.items()]


def numbers(summary: Summary, words: Words, reasons: Reasons, rows: tuple[Row, ...]) -> Json:
    """Statistics of each period, one column per period, one line per row that was asked for."""
    periods = ordered(summary)
    found = []
    for key, names, unit in rows:
        cells = [_cell(_of_period(summary, names, period), words, reasons) for period in periods]
        if any(cells):
            found.append([_label(words, key, unit), *cells])
    return {"head": _head(summary, words["value"], words), "rows": found}


def _of_period(summary: Summary, names: tuple[StatisticName, ...], period: Period) -> list[Statistic | None]:
    """A load stands only where its limit was applied: otherwise the page would name a limit and deny it."""
    if names == LOADS and limit_of(summary, period.name, period.day) is None:
        return []
    return [summary.statistic(name, period.name, period.day) for name in names]


def _head(summary: Summary, first: str, words: Words) -> list[str]:
    days = days_of(summary)
    return [first, *(period_label(p.name, p.day, days, words) for p in ordered(summary))]


def _label(words: Words, key: str, unit: str) -> str:
    return f"{words[key]}, {words[unit]}" if unit else words[key]


def _cell(found: list[Statistic | None], words: Words, reasons: Reasons) -> str:
    asked = [one for one in found if one is not None]
    if not asked:
        return ""
    if all(one.value is None for one in asked):
        return f"– ({reasons.mark(asked[0].reason or '')})"
    return words.figure("/".join(number(one.value) for one in asked))


def counts(summary: Summary, words: Words) -> Json:
    """How many readings of each period were due, tried, valid, excluded and failed."""
    found = [summary.adequacy.count(p.name, p.day) for p in ordered(summary)]

    def row(key: str, read: Callable[..., str]) -> list[str]:
        return [words[key], *(read(count) if count else "" for count in found)]

    rows = [
        row("row-scheduled", lambda c: "–" if c.scheduled is None else str(c.scheduled)),
        row("row-attempted", lambda c: str(c.attempted)),
        row("row-valid", lambda c: str(c.valid)),
        row("row-excluded", lambda c: str(c.excluded)),
        row("row-failed", lambda c: str(c.failed)),
        row("row-gaps", lambda c: str(len(c.gaps))),
        row("row-adequate", lambda c: words["yes" if c.adequate else "no"]),
    ]
    return {"head": _head(summary, words["readings-count"], words), "rows": rows}


def whole_recording(summary: Summary, words: Words, reasons: Reasons, asked: tuple[Row, ...]) -> Json:
    """Statistics that belong to a whole day: fall, surge, rhythm, stiffness."""
    days = range(1, days_of(summary) + 1)
    rows = []
    for key, names, unit in asked:
        cells = [_cell([_of_day(summary, name, day) for name in names], words, reasons) for day in days]
        if any(cells):
            rows.append([_label(words, key, unit), *cells])
    head = [words["whole-recording"], *(words.say("day-number", day=day) for day in days)]
    return {"head": head if len(days) > 1 else [head[0], words["number-of"]], "rows": rows}


def _of_day(summary: Summary, name: StatisticName, day: int) -> Statistic | None:
    return summary.statistic(name, None, day) or summary.statistic(name, PeriodName.WHOLE, day)


def every_reading(recording: Recording, summary: Summary, words: Words) -> Json:
    """All attempts in order of time with what became of them."""
    clock = clock_of(recording)
    judged = sorted(summary.judged, key=lambda one: one.reading.at.timestamp())
    keys = ("number", "time", "systolic", "diastolic", "mean", "heart-rate", "use", "why")
    return {
        "title": words["every-reading"],
        "head": [words[f"column-{key}"] for key in keys],
        "rows": [_reading(one, clock, words) for one in judged],
        "struck": [one.use is not Use.VALID for one in judged],
    }


def _reading(judged: Judged, clock: LocalClock, words: Words) -> list[str]:
    reading = judged.reading
    measured = reading.outcome is Outcome.MEASURED
    return [
        str(reading.row),
        f"{clock.local(reading.at):%Y-%m-%d %H:%M %z}",
        *(words.figure(tenths(value)) if measured else "" for value in (reading.systolic, reading.diastolic)),
        words.figure(tenths(reading.mean)) if reading.mean is not None else "",
        words.figure(tenths(reading.heart_rate)) if reading.heart_rate is not None else "",
        words[f"use-{judged.use}"],
        _why(judged, words),
    ]


def _why(judged: Judged, words: Words) -> str:
    reading = judged.reading
    parts = [
        judged.why or "",
        reading.failure if reading.failure and reading.failure not in (judged.why or "") else "",
        words[f"kind-{reading.kind}"] if reading.kind is not Kind.SCHEDULED else "",
        words["irregular"] if reading.irregular else "",
        words.say("heart-rate-excluded", rule=judged.heart_rate_excluded) if judged.heart_rate_excluded else "",
        reading.note or "",
    ]
    return "; ".join(plain(part, 90) for part in dict.fromkeys(parts) if part)
