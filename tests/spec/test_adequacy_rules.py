"""Adequacy rules of three published sources, on whole recordings."""

import pytest

from gateway.model import PeriodName, Schedule, ScheduleOrigin, Verdict
from tests.builders import a_reading, a_recording
from tests.unit.validate.ruling import attempts, count, each, examined, found, with_valid

# Hypertension Canada 2017 (CHEP table on ambulatory monitoring): 24 hours, 70 % successful, 20 by day, 7 by night.
# Columns: valid awake, valid asleep, minutes by day, by night, scheduled, is it adequate, what is said.
CANADA = [
    (40, 11, 20, 20, 72, True, ""),  # 51 of 72 = 70.8 %
    (40, 10, 20, 20, 72, False, "Only 50 of 72 scheduled readings are valid (69.4 %, 70 % are asked for)."),
    (36, 6, 20, 40, 60, False, "Only 6 valid readings asleep (7 are asked for)."),  # 42 of 60 = exactly 70 %
    (35, 7, 20, 40, 60, True, ""),  # exactly 70 %
    (19, 7, 48, 48, 30, False, "Only 19 valid readings awake (20 are asked for)."),
    (20, 7, 48, 48, 30, True, ""),
]


@pytest.mark.parametrize(("awake", "asleep", "by_day", "by_night", "scheduled", "adequate", "why"), CANADA)
def test_hypertension_canada_2017(
    awake: int, asleep: int, by_day: int, by_night: int, scheduled: int, adequate: bool, why: str
) -> None:
    result = examined(with_valid(awake, asleep, by_day, by_night), "aha-acc-2025")
    assert result.adequacy is not None
    assert count(result, PeriodName.WHOLE).scheduled == scheduled
    assert (count(result, PeriodName.AWAKE).valid, count(result, PeriodName.ASLEEP).valid) == (awake, asleep)
    assert result.adequacy.verdict is (Verdict.ADEQUATE if adequate else Verdict.NOT_ADEQUATE)
    assert result.adequacy.reasons == ((why,) if why else ())


def test_the_borrowed_rule_is_named() -> None:
    result = examined(a_recording(), "aha-acc-2025")
    assert result.adequacy is not None
    assert result.adequacy.rule.startswith("Hypertension Canada 2017")


def test_canada_asks_for_24_hours() -> None:
    times = attempts(by_day=20, by_night=30, hours=23)
    recording = a_recording(
        each(times, lambda at, row: a_reading(at, row=row)), schedule=Schedule(interval_day=20, interval_night=30)
    )
    result = examined(recording, "aha-acc-2025")
    assert result.adequacy is not None
    assert result.adequacy.verdict is Verdict.NOT_ADEQUATE
    assert result.adequacy.reasons == ("The recording covers 23 hours (24 hours are asked for).",)


# NICE (CG127 as told in Br J Gen Pract 2012;62(596):163; kept by NG136): 14 waking readings, none asked of the night.
@pytest.mark.parametrize(
    ("awake", "asleep", "adequate"), [(13, 8, False), (14, 8, True), (14, 0, True), (19, 7, True), (13, 0, False)]
)
def test_nice_asks_for_fourteen_waking_readings(awake: int, asleep: int, adequate: bool) -> None:
    result = examined(with_valid(awake, asleep), "nice-ng136")
    assert result.adequacy is not None
    assert result.adequacy.verdict is (Verdict.ADEQUATE if adequate else Verdict.NOT_ADEQUATE)
    assert bool(result.adequacy.reasons) is not adequate


@pytest.mark.parametrize(("minutes", "sparse"), [(20, False), (30, False), (31, True), (60, True)])
def test_nice_two_readings_per_waking_hour_is_a_finding(minutes: int, sparse: bool) -> None:
    result = examined(
        a_recording(
            each(attempts(minutes, 60), lambda at, row: a_reading(at, row=row)),
            schedule=Schedule(interval_day=minutes, interval_night=60),
        ),
        "nice-ng136",
    )
    assert ("programme-sparse" in found(result)) is sparse
    assert result.adequacy is not None
    assert result.adequacy.verdict is Verdict.ADEQUATE


# ESC 2024, known from a secondary summary only: 70 %, 27 in 24 hours, 7 at night.
@pytest.mark.parametrize(
    ("awake", "asleep", "by_day", "adequate"),
    [(20, 8, 30, True), (20, 7, 30, False), (22, 6, 30, False), (17, 8, 45, False), (19, 8, 45, True)],
)
def test_esc_2024(awake: int, asleep: int, by_day: int, adequate: bool) -> None:
    # 30/60 minutes: 40 scheduled, so 28 are 70 %; 45/60: 30 scheduled, so 21 are 70 % and 27 decide
    result = examined(with_valid(awake, asleep, by_day), "esc-2024")
    assert result.adequacy is not None
    assert result.adequacy.verdict is (Verdict.ADEQUATE if adequate else Verdict.NOT_ADEQUATE)
    assert "adequacy-rule" in found(result), "a rule seen in a secondary source only is said to be so"


# Least for a mean that is filed: 8 awake, 4 asleep (Yang 2019, IDACO, least for research).
@pytest.mark.parametrize(
    ("awake", "asleep", "day_filed", "night_filed"), [(8, 4, True, True), (7, 4, False, True), (8, 3, True, False)]
)
def test_the_fewest_readings_of_a_filed_mean(awake: int, asleep: int, day_filed: bool, night_filed: bool) -> None:
    result = examined(with_valid(awake, asleep))
    assert count(result, PeriodName.AWAKE).filed is day_filed
    assert count(result, PeriodName.ASLEEP).filed is night_filed
    assert result.adequacy is not None
    assert result.adequacy.verdict is Verdict.NOT_ADEQUATE


# "20/7 standard" (digitalcollections.ohsu.edu/record/41336), Hypertension Canada 2017.
@pytest.mark.parametrize(("awake", "asleep", "ready"), [(20, 7, True), (19, 7, False), (20, 6, False), (32, 8, True)])
def test_dip_and_night_need_twenty_and_seven(awake: int, asleep: int, ready: bool) -> None:
    result = examined(with_valid(awake, asleep), "nice-ng136")
    assert result.adequacy is not None
    assert result.adequacy.dip_ready is ready


def test_a_writer_that_died_after_twelve_rows_is_no_full_day() -> None:
    times = attempts(by_day=20, by_night=20)[:12]
    readings = each(times, lambda at, row: a_reading(at, row=row))
    given = a_recording(readings, schedule=Schedule(interval_day=20, interval_night=20))
    for name in ("esc-2024", "nice-ng136", "aha-acc-2025"):
        for recording in (given, a_recording(readings, schedule=Schedule())):
            result = examined(recording, name)
            assert result.adequacy is not None
            assert result.adequacy.verdict is Verdict.NOT_ADEQUATE
            assert "ended-early" in found(result)
    assert count(examined(given), PeriodName.WHOLE).scheduled == 72, "the share is of the planned day"


def test_enough_for_nice_but_ended_early_is_said() -> None:
    readings = each(attempts()[:16], lambda at, row: a_reading(at, row=row))
    result = examined(a_recording(readings), "nice-ng136")
    said = next(finding for finding in result.findings if finding.rule == "ended-early")
    assert said.sentence == "The readings stop after 7 h 30 min; 24 hours were planned."


def test_a_schedule_that_nobody_knows_is_not_proven() -> None:
    times = attempts(by_day=30, by_night=60)
    odd = [
        at for n, at in enumerate(times) if n % 5 not in (1, 2)
    ]  # gaps of 30 and 90 minutes, no four in five alike
    readings = each(odd, lambda at, row: a_reading(at, row=row))
    result = examined(a_recording(readings, schedule=Schedule()), "aha-acc-2025")
    assert result.adequacy is not None
    assert result.adequacy.schedule is ScheduleOrigin.UNKNOWN
    assert count(result, PeriodName.WHOLE).scheduled is None
    assert count(result, PeriodName.WHOLE).percent is None
    assert any("cannot be stated" in reason for reason in result.adequacy.reasons)
