"""Validation and analysis together, with the guideline and limits files as shipped."""

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from gateway.analyse import summarise
from gateway.mapping.guideline import Guideline
from gateway.mapping.limits import ReadingLimits
from gateway.mapping.parse import parse
from gateway.mapping.rules import PersonRules, Rules
from gateway.model import Diary, Interval, PeriodName, Recording, StatisticName, Subject, Summary, Verdict
from gateway.validate import examine
from tests.builders import LONDON, NHS, NOW, a_recording, readings_over

MAPPINGS = Path(__file__).parents[2] / "mappings"
AWAKE, ASLEEP, WHOLE = PeriodName.AWAKE, PeriodName.ASLEEP, PeriodName.WHOLE


def rules_of(guideline: str) -> Rules:
    file, limits = MAPPINGS / "guidelines" / f"{guideline}.toml", MAPPINGS / "limits" / "widest.toml"
    return Rules(
        guideline=parse(file.read_bytes(), Guideline, file.name),
        limits=parse(limits.read_bytes(), ReadingLimits, limits.name),
        person=PersonRules(systems={NHS: "gb.nhs"}),
    )


def summed(recording: Recording, guideline: str = "esc-2024") -> Summary:
    rules = rules_of(guideline)
    examined = examine(recording, rules, NOW)
    assert examined.hold is None
    return summarise(recording, examined, rules)


def test_a_good_recording_against_esc_2024() -> None:
    found = summed(a_recording())
    assert found.adequacy.verdict is Verdict.ADEQUATE
    assert found.conclusion[1:5] == (
        "Awake average 138.0/85.8 mmHg: at or above the limit 135/85 of ESC 2024.",
        "Asleep average 118.8/70.1 mmHg: at or above the limit 120/70 of ESC 2024.",
        "24-hour average 131.6/80.5 mmHg: at or above the limit 130/80 of ESC 2024.",
        "Systolic dip 13.9 % (awake 138.0, asleep 118.8 mmHg): dipper (10 % or more and below 20 %).",
    )


@pytest.mark.parametrize(
    ("guideline", "awake", "asleep", "whole"),
    [
        ("esc-2024", "at-or-above-limit", "at-or-above-limit", "at-or-above-limit"),
        ("nice-ng136", "at-or-above-limit", None, None),
        ("aha-acc-2025", "clinic-140-90", "clinic-140-90", "clinic-140-90"),
    ],
)
def test_the_same_recording_by_each_guideline(
    guideline: str, awake: str, asleep: str | None, whole: str | None
) -> None:
    found = summed(a_recording(), guideline)
    said = [found.interpretation(Subject.PRESSURE, period) for period in (AWAKE, ASLEEP, WHOLE)]
    assert [one.result if one else None for one in said] == [awake, asleep, whole]


def test_numbers_do_not_depend_on_the_guideline() -> None:
    tables = [summed(a_recording(), name).statistics for name in ("esc-2024", "nice-ng136", "aha-acc-2025")]
    kept = [[one for one in table if not one.name.endswith("load")] for table in tables]
    assert kept[0] == kept[1] == kept[2]


def often_failing(at: datetime) -> tuple[float | None, float | None, float | None]:
    return (None, None, None) if at.hour % 2 else (150, 95, 70)


def test_half_of_the_readings_failed() -> None:
    found = summed(a_recording(readings_over(profile=often_failing)))
    assert found.adequacy.verdict is Verdict.NOT_ADEQUATE
    assert found.interpretations == ()
    assert found.conclusion[0].startswith("Not good enough by the rule of ESC 2024")
    assert found.conclusion[0].endswith("Repeating the recording is advised.")
    mean = found.statistic(StatisticName.SYSTOLIC_MEAN, AWAKE)
    assert mean is not None and mean.value == Decimal("150.0")


def test_values_that_no_arm_can_have_count_in_no_mean() -> None:
    odd: Callable[[datetime], Any] = lambda at: (290, 85, 70) if at.hour == 12 else (130, 80, 70)  # noqa: E731
    mean = summed(a_recording(readings_over(profile=odd))).statistic(StatisticName.SYSTOLIC_MEAN, AWAKE)
    assert mean is not None and (mean.value, mean.count) == (Decimal("130.0"), 30)


def test_a_day_sleeper_is_compared_awake_against_asleep() -> None:
    def by_shift(at: datetime) -> tuple[float, float, float]:
        return (115, 68, 58) if 9 <= at.hour < 16 else (138, 86, 74)

    start = datetime(2026, 3, 3, 18, 0, tzinfo=LONDON)
    sleep = Interval(datetime(2026, 3, 4, 9, 0, tzinfo=LONDON), datetime(2026, 3, 4, 16, 0, tzinfo=LONDON))
    readings = readings_over(start=start, every=lambda _: 30, profile=by_shift)
    found = summed(a_recording(readings, diary=Diary(asleep=(sleep,))))
    assert "Sleep was by day: awake and asleep are compared, not day and night." in found.conclusion
    dip = found.statistic(StatisticName.SYSTOLIC_DIP, None)
    assert dip is not None and dip.value == Decimal("16.7")


@pytest.mark.parametrize("begin", [datetime(2026, 3, 28, 9, tzinfo=LONDON), datetime(2026, 10, 24, 9, tzinfo=LONDON)])
def test_days_of_23_and_25_hours_on_the_clock(begin: datetime) -> None:
    """Europe/London changes its clocks on 29 March and 25 October 2026; 24 real hours stay 24 hours."""
    night = Interval(begin.replace(hour=23), begin.replace(day=begin.day + 1, hour=7))
    recording = a_recording(readings_over(start=begin), diary=Diary(asleep=(night,)))
    rules = rules_of("esc-2024")
    examined = examine(recording, rules, datetime(2026, 11, 1, 12, tzinfo=LONDON), frozenset(["recording-too-old"]))
    found = summarise(recording, examined, rules)
    count = found.statistic(StatisticName.SYSTOLIC_MEAN, WHOLE)
    asleep = found.statistic(StatisticName.SYSTOLIC_MEAN, ASLEEP)
    hours = int(night.length.total_seconds() / 3600)
    assert hours in (7, 9)
    assert count is not None and count.count == len(recording.readings)
    assert asleep is not None and asleep.count == hours
