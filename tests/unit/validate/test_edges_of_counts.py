"""Small edges of counts, numbers and programmes that mutated code slipped through."""

from dataclasses import replace
from datetime import date, time, timedelta

import pytest

from gateway.model import PeriodName, Schedule
from gateway.validate.number import is_filler
from tests.builders import START, a_person, a_reading, a_recording, readings_over
from tests.unit.validate.ruling import count, examined, found

WHOLE = PeriodName.WHOLE


def test_an_excluded_reading_is_counted_as_one() -> None:
    first, *rest = readings_over()
    whole = count(examined(a_recording([a_reading(first.at, 270, 90), *rest])), WHOLE)
    assert (whole.attempted, whole.valid, whole.excluded, whole.failed) == (40, 39, 1, 0)


@pytest.mark.parametrize(("value", "filler"), [("1111", True), ("111", False), ("000", True), ("1112", False)])
def test_four_equal_digits_are_a_filler(value: str, filler: bool) -> None:
    assert is_filler(value) is filler


def test_somebody_born_on_the_day_is_no_fault_of_the_birth_date() -> None:
    today = START + timedelta(hours=25)
    recording = a_recording(readings_over(hours=2), person=a_person(birth_date=START.date()))
    assert "birth-date-doubtful" not in found(examined(recording, now=today))
    later = replace(recording, person=a_person(birth_date=date(2026, 3, 4)))
    assert "birth-date-doubtful" in found(examined(later, now=today))


@pytest.mark.parametrize("half", [{"day_from": time(6)}, {"night_from": time(22)}])
def test_one_hour_of_the_programme_alone_is_not_used(half: dict[str, time]) -> None:
    """Asleep by diary from 23:00 to 07:00: 40 are due. One hour alone does not say when the other interval began."""
    result = examined(a_recording(schedule=Schedule(interval_day=30, interval_night=60, **half)))  # type: ignore[arg-type]
    assert count(result, WHOLE).scheduled == 40
    assert "programme-hours" in found(result)


def test_failures_after_the_planned_end_are_no_readings() -> None:
    """Twelve hours were planned and read; three attempts on the table afterwards all failed."""
    readings = readings_over(hours=12)
    after = [a_reading(readings[-1].at + timedelta(minutes=30 * n), None, None, row=90 + n) for n in (1, 2, 3)]
    schedule = Schedule(interval_day=30, interval_night=60, planned=12)
    assert "programme-passed" not in found(examined(a_recording([*readings, *after], schedule=schedule)))
    measured = [replace(one, systolic=1300, diastolic=800) for one in readings_over(hours=14)[-3:]]  # type: ignore[arg-type]
    assert "programme-passed" in found(examined(a_recording([*readings, *measured], schedule=schedule)))


def test_a_night_whose_interval_nobody_knows_makes_the_programme_unknown() -> None:
    """By day 30 minutes are given; asleep there are three readings, too few to infer an interval from."""
    readings = [one for one in readings_over() if not (one.at.hour >= 23 or one.at.hour < 5)]
    result = examined(a_recording(readings, schedule=Schedule(interval_day=30)))
    assert count(result, WHOLE).scheduled is None


def test_a_diastolic_pressure_alone_has_half_the_bound_of_a_systolic_one() -> None:
    """Without any systolic value 20 mmHg and more can be a diastolic pressure, less cannot."""
    for value, doubtful in ((20, False), (19.9, True), (30, False)):
        readings = [a_reading(START + timedelta(minutes=30 * n), None, value, row=n) for n in range(4)]
        assert ("units-doubtful" in found(examined(a_recording(readings)))) is doubtful
