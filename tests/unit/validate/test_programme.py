"""Scheduled readings: what was due, by whom it is known, and what fills a slot."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest

from gateway.mapping.guideline import Guideline
from gateway.model import (
    Diary,
    Interval,
    Kind,
    Outcome,
    PeriodName,
    Reading,
    Recording,
    Schedule,
    ScheduleOrigin,
    Severity,
    Verdict,
)
from tests.builders import LONDON, START, a_reading, a_recording, readings_over
from tests.unit.validate.ruling import attempts, count, each, examined, found, guideline

WHOLE, AWAKE, ASLEEP = PeriodName.WHOLE, PeriodName.AWAKE, PeriodName.ASLEEP


def scheduled(schedule: Schedule, **changes: object) -> tuple[int, int, int]:
    result = examined(a_recording(schedule=schedule, **changes))
    return tuple(count(result, name).scheduled for name in (WHOLE, AWAKE, ASLEEP))  # type: ignore[return-value]


def test_by_the_intervals_and_the_time_asleep() -> None:
    assert scheduled(Schedule(interval_day=30, interval_night=60)) == (40, 32, 8)


def test_by_the_clock_of_the_programme_when_the_file_gives_it() -> None:
    by_clock = Schedule(interval_day=30, interval_night=60, day_from=time(6), night_from=time(22))
    # night interval 22:00 to 06:00, asleep 23:00 to 07:00 by diary: 06:00 and 06:30 are due asleep, 22:00 awake
    # (31); with the valid one at 22:30 they are 32
    assert scheduled(by_clock) == (40, 32, 9)


def test_to_the_planned_end() -> None:
    half = Schedule(interval_day=30, interval_night=60, planned=12)
    assert scheduled(half, readings=readings_over(hours=12)) == (24, 24, 0)
    closing = readings_over(hours=12.5)  # the last one falls on the planned end itself: valid, so it counts as due
    assert scheduled(half, readings=closing) == (25, 25, 0)
    assert scheduled(Schedule(interval_day=30, interval_night=60, planned=26)) == (40, 32, 8)  # the day has 24 hours


@pytest.mark.parametrize(("planned", "days"), [(12, 1), (24, 2)])
def test_a_planned_end_that_the_readings_pass_is_not_used(planned: int, days: int) -> None:
    schedule = Schedule(interval_day=30, interval_night=60, planned=planned)
    result = examined(replace(two_days(48) if days == 2 else a_recording(), schedule=schedule))
    assert [(c.scheduled, c.valid, c.percent) for day in range(1, days + 1) for c in [count(result, WHOLE, day)]] == [
        (40, 40, 100)
    ] * days
    said = [finding for finding in result.findings if finding.rule == "programme-passed"]
    assert [f.sentence for f in said] == [
        f"Readings go on after the {planned} hours that were planned; {24 * days} hours are taken as planned."
    ]
    assert said[0].severity is Severity.CAUTION


@pytest.mark.parametrize("hours", [24, 24.5, 26])
def test_a_few_readings_past_a_planned_day_change_nothing(hours: float) -> None:
    schedule = Schedule(interval_day=30, interval_night=60, planned=24)
    result = examined(a_recording(readings_over(hours=hours), schedule=schedule))
    assert count(result, WHOLE).scheduled == 40
    assert "programme-passed" not in found(result)


def test_from_the_fitting() -> None:
    """Fitted at 07:00, first reading at 09:00: the four readings that were due in between are missing."""
    fitted = START - timedelta(hours=2)
    whole, _, _ = scheduled(Schedule(interval_day=30, interval_night=60, fitted_at=fitted))
    assert whole == 40
    result = examined(
        a_recording(readings_over(hours=22), schedule=Schedule(interval_day=30, interval_night=60, fitted_at=fitted))
    )
    assert (count(result, WHOLE).scheduled, count(result, WHOLE).valid) == (40, 36)


@pytest.mark.parametrize(("wander", "origin"), [(1, ScheduleOrigin.INFERRED), (9, ScheduleOrigin.UNKNOWN)])
def test_inferred_when_four_gaps_in_five_agree_within_two_minutes(wander: int, origin: ScheduleOrigin) -> None:
    times = [at + timedelta(minutes=wander * (n % 2)) for n, at in enumerate(attempts(30, 60))]
    readings = each(times, lambda at, row: a_reading(at, row=row))
    result = examined(a_recording(readings, schedule=Schedule()))
    assert result.adequacy is not None
    assert result.adequacy.schedule is origin
    assert ("programme-inferred" in found(result)) is (origin is ScheduleOrigin.INFERRED)
    if origin is ScheduleOrigin.INFERRED:
        assert count(result, WHOLE).scheduled == 40
    else:
        assert count(result, WHOLE).scheduled is None
        assert result.adequacy.verdict is Verdict.NOT_PROVEN
        assert len(result.adequacy.reasons) == 1


def test_inferred_intervals_are_told() -> None:
    result = examined(a_recording(schedule=Schedule()))
    said = [f.sentence for f in result.findings if f.rule == "programme-inferred"]
    assert said == ["Intervals of 30 minutes by day and 60 minutes by night were inferred from the times."]
    assert count(result, WHOLE).scheduled == 40


@pytest.mark.parametrize("silly", [Schedule(interval_day=0, interval_night=-5, planned=0), Schedule(planned=10**9)])
def test_a_programme_that_cannot_be_is_not_used(silly: Schedule) -> None:
    result = examined(a_recording(schedule=silly))
    assert result.adequacy is not None
    assert result.adequacy.schedule is ScheduleOrigin.INFERRED
    assert count(result, WHOLE).scheduled == 40


def test_a_stated_interval_longer_than_the_real_one_does_not_hide_failures() -> None:
    """The file says 60 minutes, the times say 20: half of the readings failed, which is not 100 per cent."""
    readings = [
        a_reading(at, row=row) if row % 2 else a_reading(at, outcome=Outcome.FAILED, row=row)
        for row, at in enumerate(attempts(20, 20), start=1)
    ]
    result = examined(a_recording(readings, schedule=Schedule(interval_day=60, interval_night=60)))
    assert result.adequacy is not None
    assert result.adequacy.verdict is Verdict.NOT_ADEQUATE
    assert count(result, WHOLE).scheduled == 72
    assert "programme-differs" in found(result)


def test_a_day_sleeper_keeps_the_day_interval_while_asleep() -> None:
    """Asleep 10:00 to 17:00 under the interval of the day: no contradiction, and no slots lost."""
    sleep = Interval(START.replace(hour=10), START.replace(hour=17))
    result = examined(a_recording(diary=Diary(asleep=(sleep,))))
    assert count(result, ASLEEP).scheduled == 14
    assert "programme-differs" not in found(result)


@pytest.mark.parametrize("kind", [Kind.REPEAT, Kind.SCHEDULED])
@pytest.mark.parametrize("pause", [1, 3])
def test_a_repeat_fills_its_slot(kind: Kind, pause: int) -> None:
    readings: list[Reading] = []
    for n, at in enumerate(attempts(30, 60)):
        if n % 4 == 0:
            readings.append(a_reading(at, outcome=Outcome.FAILED, row=2 * n))
            readings.append(a_reading(at + timedelta(minutes=pause), row=2 * n + 1, kind=kind))
        else:
            readings.append(a_reading(at, row=2 * n))
    result = examined(a_recording(readings))
    whole = count(result, WHOLE)
    assert (whole.scheduled, whole.valid, whole.failed, whole.attempted) == (40, 40, 10, 50)


def test_a_second_valid_reading_in_one_slot_does_not_count_twice() -> None:
    readings = [
        reading
        for n, at in enumerate(attempts(30, 60))
        for reading in (a_reading(at, row=2 * n), a_reading(at + timedelta(minutes=2), row=2 * n + 1))
    ]
    whole = count(examined(a_recording(readings)), WHOLE)
    assert (whole.scheduled, whole.valid, whole.attempted) == (40, 40, 80)


def test_counts_use_the_whole_partition_when_narrow_windows_serve_the_means() -> None:
    result = examined(a_recording(diary=Diary()))  # ESC: 10-20 and 00-06, partition 08-22
    assert count(result, AWAKE).valid + count(result, ASLEEP).valid == count(result, WHOLE).valid == 40
    assert result.windows is not None


def test_readings_due_across_a_clock_change() -> None:
    """In the night of 24 October 2026 there are 9 hours from 23:00 to 07:00 by the clock."""
    start = datetime(2026, 10, 24, 9, tzinfo=LONDON)
    night = Interval(start.replace(hour=23), datetime(2026, 10, 25, 7, tzinfo=LONDON))
    result = examined(
        a_recording(readings_over(start), diary=Diary(asleep=(night,))), now=datetime(2026, 10, 26, tzinfo=UTC)
    )
    assert count(result, ASLEEP).scheduled == 9
    assert count(result, ASLEEP).valid == 9
    assert count(result, WHOLE).scheduled == 39  # 24 real hours end at 08:00


def two_days(hours: float, **changes: object) -> Recording:
    night = a_recording().diary.asleep[0]
    next_night = Interval(
        *((edge.astimezone(UTC) + timedelta(days=1)).astimezone(LONDON) for edge in (night.start, night.end))
    )
    schedule = Schedule(interval_day=30, interval_night=60, planned=48)
    return a_recording(
        readings_over(hours=hours), schedule=schedule, diary=Diary(asleep=(night, next_night)), **changes
    )


def test_48_hours_are_counted_day_by_day() -> None:
    result = examined(two_days(48), "aha-acc-2025")
    assert result.adequacy is not None
    assert result.adequacy.verdict is Verdict.ADEQUATE
    assert [(c.day, c.period, c.scheduled, c.valid) for c in result.adequacy.counts] == [
        (day, name, n, n) for day in (1, 2) for name, n in ((WHOLE, 40), (AWAKE, 32), (ASLEEP, 8))
    ]
    assert result.adequacy.dip_ready


def test_a_second_day_that_is_not_good_enough_is_named() -> None:
    result = examined(two_days(37), "aha-acc-2025")
    assert result.adequacy is not None
    assert result.adequacy.verdict is Verdict.NOT_ADEQUATE
    assert all(reason.startswith("Day 2: ") for reason in result.adequacy.reasons)
    assert not result.adequacy.dip_ready
    assert "ended-early" in found(result)


def test_a_day_that_goes_by_the_clock_is_said() -> None:
    schedule = Schedule(interval_day=30, interval_night=60, planned=48)
    result = examined(a_recording(readings_over(hours=48), schedule=schedule), "nice-ng136")
    said = [finding for finding in result.findings if finding.rule == "no-sleep"]
    assert [(f.severity, f.sentence) for f in said] == [
        (Severity.CAUTION, "Day 2: no sleep is known; awake and asleep go by fixed clock times.")
    ]


def test_a_day_without_sleep_beside_one_of_little_sleep_is_said() -> None:
    """Two hours by diary, let pass by a named person: day 2 counts as awake, and that is printed."""
    sleep = Interval(START.replace(hour=23), datetime(2026, 3, 4, 1, tzinfo=LONDON))
    recording = a_recording(readings_over(hours=48), diary=Diary(asleep=(sleep,)))
    result = examined(recording, waived=["sleep-doubtful"])
    assert [f.sentence for f in result.findings if f.rule == "no-sleep"] == [
        "Day 2: no sleep is known: all of it counts as awake."
    ]


def test_48_hours_planned_and_30_recorded_is_one_day_that_ended_early() -> None:
    result = examined(two_days(30))
    assert result.hold is None, "a night that was planned lies within the recording"
    assert result.windows is not None
    assert {period.day for period in result.windows.periods} == {1}
    said = next(finding for finding in result.findings if finding.rule == "ended-early")
    assert said.sentence == "The readings stop after 29 h 30 min; 48 hours were planned."


def later(hours: float) -> datetime:
    return (START.astimezone(UTC) + timedelta(hours=hours)).astimezone(LONDON)


def left_on_the_table() -> list[Reading]:
    """The monitor was taken off after 24 hours and went on trying for 13 hours."""
    return [a_reading(later(24 + n / 2), outcome=Outcome.FAILED, row=900 + n) for n in range(26)]


@pytest.mark.parametrize(
    "tail",
    [left_on_the_table(), [a_reading(later(36.5), 150, 90, row=900, kind=Kind.MANUAL)]],
    ids=["failed", "manual"],
)
def test_what_comes_after_a_good_day_makes_no_second_day(tail: list[Reading]) -> None:
    """Only a pressure that the programme took shows that the monitor was still worn for a day more."""
    result = examined(a_recording((*readings_over(), *tail)))
    assert result.adequacy is not None
    assert (result.adequacy.verdict, result.adequacy.reasons) == (Verdict.ADEQUATE, ())
    assert {c.day for c in result.adequacy.counts} == {1}


def test_a_second_day_without_any_pressure_is_missing_and_said() -> None:
    schedule = Schedule(interval_day=30, interval_night=60, planned=48)
    result = examined(a_recording((*readings_over(), *left_on_the_table()), schedule=schedule))
    said = next(finding for finding in result.findings if finding.rule == "ended-early")
    assert said.sentence == "The readings stop after 23 h 30 min; 48 hours were planned."


def test_a_press_of_the_button_makes_a_short_recording_no_longer() -> None:
    """20 hours of the programme and a press at 24.5 hours: the hours that were asked for were not recorded."""
    short = readings_over(hours=20)
    pressed = (*short, a_reading(later(24.5), row=900, kind=Kind.MANUAL))
    planned = Schedule(interval_day=30, interval_night=60, planned=24)
    rule = asking_for(24)
    for readings in (short, pressed):
        result = examined(a_recording(readings, schedule=planned), guideline=rule)
        assert result.adequacy is not None
        assert result.adequacy.verdict is Verdict.NOT_ADEQUATE
        assert "The recording covers 20 hours (24 hours are asked for)." in result.adequacy.reasons
        assert "ended-early" in found(result)


def asking_for(hours: int) -> Guideline:
    shipped = guideline("esc-2024")
    return shipped.model_copy(update={"adequacy": shipped.adequacy.model_copy(update={"span": hours})})


def test_a_gap_that_ends_on_another_day_names_the_day() -> None:
    night = [reading for reading in readings_over() if not 1 <= reading.at.hour < 5]
    said = {f.sentence for f in examined(a_recording(night)).findings if f.rule == "gaps"}
    assert said == {"No valid reading for 2 hours or more: 00:00 to 05:00."}
    late = [reading for reading in readings_over() if 5 <= reading.at.hour < 23]
    said = {f.sentence for f in examined(a_recording(late)).findings if f.rule == "gaps"}
    assert said == {"No valid reading for 2 hours or more: 22:30 to 05:00 on 2026-03-04."}


def test_the_night_interval_without_its_hours_is_said() -> None:
    assert "programme-hours" in found(examined(a_recording()))
    whole = Schedule(interval_day=30, interval_night=60, day_from=time(7), night_from=time(23))
    assert "programme-hours" not in found(examined(a_recording(schedule=whole)))
