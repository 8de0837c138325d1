"""Hourly means for the curve of a day, by hand and by pandas."""

from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

import pandas as pd
import pytest

from gateway.analyse import hourly_means, summarise
from gateway.analyse.trend import Hour
from gateway.model import Diary, Judged, PeriodName, Reading, StatisticName, Use
from tests.builders import LONDON, START, a_reading, a_recording, readings_over
from tests.unit.analyse.examined import after, examined_of, rules_with


def hours_of(readings: list[Reading], days: int = 1) -> tuple[Hour, ...]:
    examined = examined_of(a_recording(readings, diary=Diary()), days=days)
    assert examined.windows is not None
    return hourly_means(examined.judged, examined.windows)


def test_each_hour_holds_its_own_readings_and_empty_hours_are_left_out() -> None:
    at = [START + timedelta(minutes=m) for m in (0, 59, 60, 200)]
    rows = [(at[0], 130, 80, 70), (at[1], 131, 80, None), (at[2], 140, 90, None), (at[3], 150, 95, 61)]
    first, second, third = hours_of([a_reading(*values, row=n + 1) for n, values in enumerate(rows)])
    assert first == Hour(
        day=1,
        start=START,
        count=2,
        systolic=Decimal("130.5"),
        diastolic=Decimal("80.0"),
        heart_rate=Decimal("70.0"),
    )
    assert (second.start, second.count, second.heart_rate) == (START + timedelta(hours=1), 1, None)
    assert (third.start, third.systolic) == (START + timedelta(hours=3), Decimal("150.0"))


def test_a_reading_kept_out_enters_no_hour() -> None:
    examined = examined_of(a_recording())
    assert examined.windows is not None
    judged = [
        Judged(reading=one.reading, use=Use.EXCLUDED, rule="range", why="too high") if n == 1 else one
        for n, one in enumerate(examined.judged)
    ]
    whole, less = (hourly_means(found, examined.windows) for found in (examined.judged, judged))
    assert (whole[0].count, less[0].count) == (2, 1)
    assert whole[1:] == less[1:]


def test_two_days_are_counted_apart() -> None:
    found = hours_of(readings_over(hours=48), days=2)
    assert [one.day for one in found] == [1] * 24 + [2] * 24
    assert [one.start for one in found] == [START + timedelta(hours=n) for n in range(48)]


@pytest.mark.parametrize(("month", "day", "clock"), [(3, 28, 2), (10, 24, 1)])
def test_a_clock_change_neither_doubles_nor_drops_an_hour(month: int, day: int, clock: int) -> None:
    """Europe/London, last Sundays of March and October 2026: the local hour 1 is missing, or comes twice."""
    start = datetime(2026, month, day, 9, tzinfo=LONDON)
    readings = [a_reading(after(start, timedelta(minutes=30 * n)), row=n + 1) for n in range(48)]
    found = hours_of(readings)
    assert [one.count for one in found] == [2] * 24
    assert len({one.start.timestamp() for one in found}) == 24
    assert found[16].start.hour == clock


def test_their_mean_is_the_mean_of_hourly_means() -> None:
    """Against pandas on exact sums: the same hours, and within the rounding of 24 means the same 24-hour mean."""
    recording = a_recording(readings_over(every=lambda at: 7 + at.hour))
    examined = examined_of(recording)
    assert examined.windows is not None
    found = hourly_means(examined.judged, examined.windows)
    table = pd.DataFrame(
        {
            "hour": [int((one.at.timestamp() - START.timestamp()) // 3600) for one in recording.readings],
            "systolic": [one.systolic for one in recording.readings],
        }
    ).dropna()
    means = table.groupby("hour")["systolic"].mean() / 10
    assert [one.count for one in found] == table.groupby("hour").size().tolist()
    assert all(abs(float(one.systolic) - mean) <= 0.05 + 1e-9 for one, mean in zip(found, means, strict=True))
    summary = summarise(recording, examined, rules_with())
    stated = summary.statistic(StatisticName.SYSTOLIC_MEAN_HOURLY, PeriodName.WHOLE)
    assert stated is not None and stated.value is not None
    assert abs(sum(one.systolic for one in found) / len(found) - stated.value) <= Decimal("0.1")


def test_no_valid_reading_gives_no_hour() -> None:
    assert hours_of([a_reading(START, None, None)]) == ()
    assert hours_of([replace(one, heart_rate=None) for one in readings_over(hours=3)])[0].heart_rate is None
