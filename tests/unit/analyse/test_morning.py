"""Which waking the morning is reckoned from, with the diary and marks as a person gives them."""

from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from gateway.analyse import summarise
from gateway.model import Diary, Interval, Reading, Recording, Schedule, StatisticName, Summary, Tenths
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


NIGHT = Interval(at(3, 23), at(4, 7))
BROKEN = (Interval(at(3, 23), at(4, 5)), Interval(at(4, 5, 30), at(4, 7)))


@pytest.mark.parametrize("name", MORNING)
@pytest.mark.parametrize("nap", [(), (NAP,)])
def test_a_short_interruption_does_not_part_the_night(name: StatisticName, nap: tuple[Interval, ...]) -> None:
    """By hand: 140 after 07:00, 125 before it, lowest at 01:00 between 120 and 100: 140 - 320/3 = 33.3."""
    by_hand = dict(zip(MORNING, map(Decimal, ("33.3", "15.0", "140.0")), strict=True))
    assert stated(summed(slept(*nap, NIGHT)), name) == (by_hand[name], None)
    assert stated(summed(slept(*nap, *BROKEN)), name) == (by_hand[name], None)


def test_what_was_measured_while_the_sleep_was_interrupted_is_no_sleep() -> None:
    """A lowest value of 80 at 05:00, while awake, is not the trough."""
    low = [replace(one, systolic=Tenths(800)) if one.at == at(4, 5) else one for one in half_hourly()]
    recording = replace(slept(*BROKEN), readings=tuple(low))
    assert stated(summed(recording), StatisticName.SURGE_SLEEP_TROUGH) == (Decimal("33.3"), None)


@pytest.mark.parametrize(("back", "surge"), [(at(4, 4, 59), "33.3"), (at(4, 5), "18.3")])
def test_sleep_that_goes_on_within_an_hour_was_interrupted(back: datetime, surge: str) -> None:
    """Up at 04:00; an hour or more is a rising (common practice), after which 125 - 320/3 = 18.3."""
    recording = slept(Interval(at(3, 23), at(4, 4)), Interval(back, at(4, 7)))
    assert stated(summed(recording), StatisticName.SURGE_SLEEP_TROUGH) == (Decimal(surge), None)


@pytest.mark.parametrize(("early", "count"), [(72, 2), (25, 2), (24, 0), (0, 2)])
def test_a_time_of_fitting_that_cannot_be_is_not_the_start_of_the_first_hour(early: int, count: int) -> None:
    """More than 24 hours before the first attempt it goes with another recording (common practice)."""
    recording = slept(NIGHT)
    schedule = replace(recording.schedule, fitted_at=recording.began - timedelta(hours=early))
    found = summed(replace(recording, schedule=schedule)).statistic(StatisticName.FIRST_HOUR_SYSTOLIC_MEAN, None)
    assert found is not None and found.count == count
