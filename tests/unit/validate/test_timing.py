"""Times: years, order, future, length, exchanged dates, age, zones."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from gateway.mapping.rules import TimeRules
from gateway.model import Diary, HoldReason, Outcome, Reading, Recording, Schedule, Severity
from tests.builders import LONDON, NOW, START, a_reading, a_recording, readings_over
from tests.unit.validate.ruling import examined, found


def at(*moments: datetime, **more: object) -> Recording:
    return a_recording([a_reading(m, row=n) for n, m in enumerate(moments, start=1)], diary=Diary(), **more)


def later(**span: float) -> datetime:
    return (START.astimezone(UTC) + timedelta(**span)).astimezone(LONDON)


def test_times_that_fall_hold_and_name_the_row() -> None:
    result = examined(at(START, later(minutes=30), later(minutes=20), later(minutes=60)))
    assert result.hold is not None
    assert (result.hold.reason, result.hold.detail) == (HoldReason.TIME_NOT_RISING, "row 3")
    assert result.adequacy is not None, "a person sees what is at stake"


def test_two_pressures_at_one_time_hold() -> None:
    result = examined(at(START, later(minutes=30), later(minutes=30)))
    assert result.hold is not None
    assert result.hold.reason is HoldReason.TIME_NOT_RISING


def test_two_pressures_at_one_time_hold_with_a_failed_attempt_between_them() -> None:
    """Whichever of the two is right, both would enter the means."""
    readings = [a_reading(START, row=1), a_reading(later(minutes=30), row=2)]
    readings += [
        a_reading(later(minutes=30), outcome=Outcome.FAILED, row=3),
        a_reading(later(minutes=30), 180, row=4),
    ]
    hold = examined(a_recording(readings, diary=Diary())).hold
    assert hold is not None
    assert (hold.reason, hold.detail) == (HoldReason.TIME_NOT_RISING, "two readings at one time, row 4")


def test_a_failed_attempt_and_its_repeat_may_share_a_minute() -> None:
    readings = [a_reading(START, row=1), a_reading(later(minutes=30), outcome=Outcome.FAILED, row=2)]
    readings.append(a_reading(later(minutes=30), row=3))
    result = examined(a_recording(readings, diary=Diary()))
    assert result.hold is None
    assert "time-shared" in found(result)


def test_order_is_by_real_time_in_the_hour_that_comes_twice() -> None:
    """Berlin, 2026-10-25: 01:40, 02:10, 02:40, 02:10, 02:40, 03:10 are six rising instants."""
    berlin = ZoneInfo("Europe/Berlin")
    walls = [(1, 40, 0), (2, 10, 0), (2, 40, 0), (2, 10, 1), (2, 40, 1), (3, 10, 0)]
    instants = [datetime(2026, 10, 25, h, m, tzinfo=berlin, fold=f) for h, m, f in walls]
    result = examined(at(*instants, zone="Europe/Berlin"), now=datetime(2026, 10, 26, tzinfo=UTC))
    assert result.hold is None


@pytest.mark.parametrize(("ahead", "held"), [(timedelta(minutes=10), False), (timedelta(minutes=11), True)])
def test_readings_in_the_future(ahead: timedelta, held: bool) -> None:
    now = START.astimezone(UTC) - ahead
    hold = examined(at(START), now=now).hold
    assert (hold is not None and hold.reason is HoldReason.TIME_IN_FUTURE) is held


@pytest.mark.parametrize(("hours", "held"), [(52, False), (52.5, True)])
def test_length(hours: float, held: bool) -> None:
    hold = examined(at(START, later(hours=hours)), now=NOW + timedelta(days=9)).hold
    assert (hold is not None and hold.reason is HoldReason.RECORDING_TOO_LONG) is held
    if hold and held:
        assert hold.detail == "52 h 30 min, at most 52 hours are expected"


def test_day_and_month_exchanged_is_told_from_two_recordings_in_one_file() -> None:
    """Worn 5 to 6 June 2026 from 22:00 to 21:40, read month-first: 6 May 22:00, then 6 June 21:40."""
    first, last = datetime(2026, 5, 6, 22, tzinfo=LONDON), datetime(2026, 6, 6, 21, 40, tzinfo=LONDON)
    result = examined(at(first, last), now=datetime(2026, 6, 8, tzinfo=UTC))
    assert result.hold is not None
    assert result.hold.reason is HoldReason.TIME_DOUBTFUL
    assert result.hold.rule == "", "nobody can let exchanged dates pass"
    assert result.windows is None
    other = examined(at(first, first + timedelta(days=20)), now=datetime(2026, 6, 8, tzinfo=UTC))
    assert other.hold is not None
    assert other.hold.reason is HoldReason.RECORDING_TOO_LONG


def test_years_that_no_clock_shows() -> None:
    for year in (1, 1969, 2200, 9999):
        result = examined(at(START.replace(year=year)))
        assert result.hold is not None
        assert result.windows is None
        assert "time-unbelievable" in found(result)


@pytest.mark.parametrize(("days", "old"), [(60, False), (61, True)])
def test_old_recordings(days: int, old: bool) -> None:
    recording = a_recording()
    now = recording.ended.astimezone(UTC) + timedelta(days=days)
    inbox = examined(recording, now=now)
    assert inbox.historical is old
    assert (inbox.hold is not None and inbox.hold.reason is HoldReason.RECORDING_TOO_OLD) is old
    backfill = examined(recording, now=now, time=TimeRules(hold_historical=False))
    assert (backfill.historical, backfill.hold) == (old, None)
    assert ("recording-too-old" in found(backfill)) is old


def test_an_old_recording_let_pass_stays_historical() -> None:
    result = examined(a_recording(), now=NOW + timedelta(days=90), waived=["recording-too-old"])
    assert (result.hold, result.historical) == (None, True)
    said = [f.severity for f in result.findings if f.rule == "recording-too-old"]
    assert said == [Severity.CAUTION]


def test_an_assumed_zone_is_said() -> None:
    recording = a_recording()
    assumed = replace(recording, source=replace(recording.source, zone_origin="assumed", remarks=("row 3: odd",)))
    assert {"zone-assumed", "reader-remark"} <= set(found(examined(assumed)))
    assert "zone-assumed" not in found(examined(recording))


@pytest.mark.parametrize(("fitted", "said"), [(-25, True), (-24, False), (0, False), (1, True)])
def test_a_time_of_fitting_that_does_not_go_with_the_readings(fitted: int, said: bool) -> None:
    schedule = Schedule(interval_day=30, interval_night=60, fitted_at=later(hours=fitted))
    assert ("fitting-time" in found(examined(a_recording(schedule=schedule)))) is said


def test_gaps_are_listed_in_local_time() -> None:
    readings: list[Reading] = [r for r in readings_over() if not 13 <= r.at.hour < 15]
    result = examined(a_recording(readings))
    said = [finding.sentence for finding in result.findings if finding.rule == "gaps"]
    assert said == ["No valid reading for 2 hours or more: 12:30 to 15:00."]


@pytest.mark.parametrize(
    ("worn", "pause", "planned", "held"),
    [
        (20, 8, None, False),
        (21, 8, None, True),
        (40, 7.9, None, False),
        (40, 8, 48, False),
        (40, 10, 24, True),
        (40, 10, 24_000_000_000, False),  # more hours than a span of time can hold
    ],
)
def test_a_break_in_a_recording_that_goes_on_past_its_plan(
    worn: float, pause: float, planned: int | None, held: bool
) -> None:
    """`worn` hours in two halves with a pause between; a monitor that is worn tries and notes that it failed."""
    first = [later(hours=number / 2) for number in range(int(worn) + 1)]
    second = [later(hours=worn / 2 + pause + number / 2) for number in range(int(worn) + 1)]
    recording = replace(at(*first, *second), schedule=Schedule(planned=planned))
    result = examined(recording, now=NOW + timedelta(days=9))
    assert (result.hold is not None and result.hold.reason is HoldReason.RECORDING_BROKEN) is held
    assert ("recording-broken" in found(result)) is (pause >= 8)
    assert examined(recording, now=NOW + timedelta(days=9), time=TimeRules(hold_break=False)).hold is None
    assert examined(recording, now=NOW + timedelta(days=9), waived=["recording-broken"]).hold is None
