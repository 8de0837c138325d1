"""Which waking the morning is reckoned from, with the diary and marks as a person gives them."""

from dataclasses import replace
from datetime import datetime
from decimal import Decimal

import pytest

from gateway.analyse import summarise
from gateway.model import Diary, Interval, Reading, Recording, Schedule, StatisticName, Summary
from tests.builders import LONDON, a_recording, readings_over
from tests.unit.validate.ruling import examined, rules

MORNING = (StatisticName.SURGE_SLEEP_TROUGH, StatisticName.SURGE_PRE_WAKING, StatisticName.MORNING_MEAN)
UNKNOWN = "not computable, because the time of waking is not known"


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=LONDON)


NAP = Interval(at(3, 14), at(3, 16))


def deep_before_four(moment: datetime) -> tuple[float, float, float]:
    """140 awake; asleep 120 until 01:00, 100 until 04:00 and 125 until 07:00."""
    if 7 <= moment.hour < 23:
        return 140, 86, 75
    return ((100 if moment.hour < 4 else 125) if 1 <= moment.hour < 7 else 120), 70, 58


def half_hourly() -> tuple[Reading, ...]:
    return readings_over(every=lambda _: 30, profile=deep_before_four)


def slept(*asleep: Interval) -> Recording:
    return a_recording(
        half_hourly(), diary=Diary(asleep=asleep), schedule=Schedule(interval_day=30, interval_night=30)
    )


def summed(recording: Recording) -> Summary:
    found = examined(recording)
    assert found.hold is None
    return summarise(recording, found, rules())


def stated(summary: Summary, name: StatisticName) -> tuple[Decimal | None, str | None]:
    found = summary.statistic(name, None)
    assert found is not None
    return found.value, found.reason


@pytest.mark.parametrize("name", MORNING)
def test_a_nap_is_not_taken_for_a_night_that_goes_on_past_the_day(name: StatisticName) -> None:
    """The day ends at 09:00, half an hour before the rising."""
    summary = summed(slept(NAP, Interval(at(4, 2), at(4, 9, 30))))
    assert stated(summary, name) == (None, UNKNOWN)


@pytest.mark.parametrize("name", MORNING)
def test_a_nap_is_not_taken_for_a_night_whose_end_was_not_marked(name: StatisticName) -> None:
    marked = [
        replace(one, asleep_mark=one.at in NAP or one.at.hour >= 23 or one.at.hour < 7)
        for one in half_hourly()
        if one.at < at(4, 7)
    ]
    recording = replace(slept(), readings=tuple(marked))
    assert stated(summed(recording), name) == (None, UNKNOWN)
