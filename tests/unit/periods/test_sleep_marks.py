"""Sleep marks that count as a diary, recordings without sleep, and small spans of time."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gateway.model import (
    Diary,
    Hold,
    HoldReason,
    Interval,
    Kind,
    Period,
    PeriodName,
    Recording,
    WindowOrigin,
    Windows,
)
from gateway.periods import find
from gateway.periods.fixed import between
from gateway.periods.spans import clipped, merged, outside, total
from tests.builders import LONDON, START, a_reading, a_recording, readings_over
from tests.unit.validate.ruling import examined, found, rules


def marked(asleep: list[bool | None], diary: Diary | None = None, minutes: int = 60) -> Recording:
    times = [(START.astimezone(UTC) + timedelta(minutes=minutes * n)).astimezone(LONDON) for n in range(len(asleep))]
    readings = [
        a_reading(at, row=n, asleep_mark=mark) for n, (at, mark) in enumerate(zip(times, asleep, strict=True))
    ]
    return a_recording(readings, diary=diary or Diary())


def windows(recording: Recording, name: str = "esc-2024") -> Windows:
    result = find(recording, rules(name))
    assert isinstance(result, Windows)
    return result


def spans(of: Windows, name: PeriodName) -> list[str]:
    period: Period = next(p for p in of.periods if p.name is name)
    return [f"{span.start:%d %H:%M}-{span.end:%d %H:%M}" for span in period.whole]


NIGHT = [False] * 14 + [True] * 8 + [False] * 2  # hourly from 09:00: asleep 23:00 to 07:00


def test_marks_make_spans_from_first_asleep_to_next_awake() -> None:
    result = windows(marked([*NIGHT]))
    assert result.origin is WindowOrigin.MARKED
    assert spans(result, PeriodName.ASLEEP) == ["03 23:00-04 07:00"]
    assert [f"{at:%H:%M}" for at in result.waking] == ["07:00"]


def test_a_diary_comes_before_marks_and_marks_before_clock_windows() -> None:
    own = a_recording().diary
    assert windows(marked([*NIGHT], diary=own)).origin is WindowOrigin.DIARY
    assert windows(marked([None] * 24)).origin is WindowOrigin.GUIDELINE


def test_readings_without_a_mark_say_nothing() -> None:
    holes = [None if n % 3 == 1 else mark for n, mark in enumerate(NIGHT)]
    assert spans(windows(marked([*holes])), PeriodName.ASLEEP) == ["03 23:00-04 08:00"]


def test_waking_is_not_known_when_the_marks_end_in_sleep() -> None:
    result = windows(marked([False] * 14 + [True] * 5))
    assert result.waking == ()
    assert spans(result, PeriodName.ASLEEP) == ["03 23:00-04 03:01"]


def test_marks_that_say_nobody_slept_leave_awake_only_and_that_is_said() -> None:
    recording = marked([False] * 24)
    assert [p.name for p in windows(recording).periods] == [PeriodName.WHOLE, PeriodName.AWAKE]
    assert spans(windows(recording), PeriodName.AWAKE) == ["03 09:00-04 09:00"]
    result = examined(recording)
    assert "no-sleep" in found(result)
    assert result.adequacy is not None
    assert any(reason.startswith("No time asleep is known") for reason in result.adequacy.reasons)
    assert not result.adequacy.dip_ready


def test_too_little_marked_sleep_holds() -> None:
    result = find(marked([False] * 20 + [True, True] + [False] * 2), rules())
    assert isinstance(result, Hold)
    assert (result.reason, result.rule) == (HoldReason.SLEEP_DOUBTFUL, "sleep-doubtful")


def test_clock_windows_are_never_doubtful_sleep() -> None:
    short = a_recording(readings_over(hours=1), diary=Diary())
    assert isinstance(find(short, rules("nice-ng136")), Windows)


def test_overlapping_diary_spans_are_one() -> None:
    night = a_recording().diary.asleep[0]
    later = Interval(night.start + timedelta(hours=1), night.end)
    result = windows(a_recording(diary=Diary(asleep=(night, later))))
    assert spans(result, PeriodName.ASLEEP) == ["03 23:00-04 07:00"]


def test_the_day_begins_with_the_first_scheduled_attempt() -> None:
    early = [
        a_reading(START - timedelta(minutes=m), kind=kind, row=m)
        for m, kind in ((20, Kind.FITTING), (10, Kind.MANUAL))
    ]
    result = windows(a_recording([*early, *readings_over()]))
    assert spans(result, PeriodName.WHOLE) == ["03 09:00-04 09:00"]


def test_readings_past_the_day_are_told() -> None:
    result = examined(a_recording(readings_over(hours=25)))
    said = next(finding for finding in result.findings if finding.rule == "past-the-day")
    assert len(said.rows) == 2


def test_offsets_of_the_cells_serve_where_no_zone_is_named() -> None:
    there = timezone(timedelta(hours=5, minutes=45))
    start = datetime(2026, 3, 3, 9, tzinfo=there)
    result = windows(a_recording(readings_over(start), zone=None, diary=Diary()), "nice-ng136")
    assert spans(result, PeriodName.ASLEEP) == ["03 22:00-04 08:00"]
    assert all(
        edge.utcoffset() == there.utcoffset(None)
        for period in result.periods
        for span in period.whole
        for edge in (span.start, span.end)
    )


@pytest.mark.parametrize(
    ("low", "high", "middle"),
    [
        (time(20), time(0), time(22)),
        (time(6), time(10), time(8)),
        (time(22), time(22), time(22)),
        (time(23), time(22), time(22, 30)),  # windows that overlap are parted in the middle of the overlap
        (time(21), time(1), time(23)),
    ],
)
def test_transition_hours_go_half_to_each_side(low: time, high: time, middle: time) -> None:
    assert between(low, high) == middle


MOMENTS = st.integers(0, 300).map(lambda minutes: datetime(2026, 3, 3, tzinfo=UTC) + timedelta(minutes=minutes))
SPANS = st.lists(st.tuples(MOMENTS, MOMENTS).filter(lambda pair: pair[0] < pair[1]).map(lambda p: Interval(*p)))
FRAME = Interval(datetime(2026, 3, 3, 1, tzinfo=UTC), datetime(2026, 3, 3, 4, tzinfo=UTC))


@given(SPANS)
def test_inside_and_outside_part_the_frame(found_spans: list[Interval]) -> None:
    whole = merged(found_spans)
    inside, rest = clipped(whole, FRAME), outside(whole, FRAME)
    assert total(inside) + total(rest) == FRAME.length
    for minute in range(0, 300, 7):
        at = FRAME.start + timedelta(minutes=minute)
        asleep = any(at in span for span in found_spans)
        assert any(at in span for span in inside) == (asleep and at in FRAME)
        assert any(at in span for span in rest) == (not asleep and at in FRAME)


STARTS = st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 30), timezones=st.just(LONDON))  # noqa: DTZ001


@settings(max_examples=60, deadline=None)
@given(STARTS, st.sampled_from(["esc-2024", "nice-ng136", "aha-acc-2025"]), st.sampled_from([5, 24, 48]))
def test_awake_and_asleep_always_part_the_day(start: datetime, name: str, hours: int) -> None:
    recording = a_recording(readings_over(start, hours=hours), diary=Diary())
    result = windows(recording, name)
    for day in {period.day for period in result.periods}:
        of_day = {p.name: p for p in result.periods if p.day == day}
        parts = [of_day[name].whole for name in (PeriodName.AWAKE, PeriodName.ASLEEP) if name in of_day]
        assert sum((span.length for part in parts for span in part), timedelta()) == timedelta(hours=24)
        for reading in recording.readings:
            inside = sum(any(reading.at in span for span in part) for part in parts)
            assert inside == (reading.at in of_day[PeriodName.WHOLE].whole[0])


def test_a_reading_at_the_end_of_sleep_is_awake() -> None:
    result = windows(replace(a_recording()))
    asleep = next(p for p in result.periods if p.name is PeriodName.ASLEEP)
    awake = next(p for p in result.periods if p.name is PeriodName.AWAKE)
    end = datetime(2026, 3, 4, 7, tzinfo=LONDON)
    assert (asleep.holds(end), awake.holds(end)) == (False, True)
    assert asleep.holds(end - timedelta(seconds=1))
