"""Clock windows of published sources, and what clock changes and shift work do to the windows of a person."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from gateway.mapping.guideline import FixedWindow, FixedWindows, Standing
from gateway.model import Diary, Hold, Interval, Period, PeriodName, Recording, WindowOrigin, Windows
from gateway.periods import find
from tests.builders import LONDON, START, a_recording, readings_over
from tests.unit.validate.ruling import guideline, rules

BERLIN = ZoneInfo("Europe/Berlin")

# Wide windows 08-22 (NICE example, Br J Gen Pract 2012;62(596):163; Hypertension Canada); IDACO 10-20 and 00-06
# (PMC4787534)
PUBLISHED = [
    ("nice-ng136", (8, 22), (22, 8)),
    ("aha-acc-2025", (8, 22), (22, 8)),
    ("esc-2024", (10, 20), (0, 6)),
]


def windows(recording: Recording, name: str = "esc-2024", **changes: object) -> Windows:
    result = find(recording, rules(name, **changes))
    assert isinstance(result, Windows)
    return result


def period(of: Windows, name: PeriodName, day: int = 1) -> Period:
    return next(p for p in of.periods if p.name is name and p.day == day)


def hours(spans: tuple[Interval, ...]) -> float:
    return sum((span.length for span in spans), timedelta()) / timedelta(hours=1)


def shown(spans: tuple[Interval, ...]) -> list[str]:
    return [f"{span.start:%d %H:%M}-{span.end:%d %H:%M}" for span in spans]


@pytest.mark.parametrize(("name", "awake", "asleep"), PUBLISHED)
def test_clock_windows_of_the_guideline(name: str, awake: tuple[int, int], asleep: tuple[int, int]) -> None:
    chosen = guideline(name).windows
    assert (chosen.awake.start.hour, chosen.awake.end.hour) == awake
    assert (chosen.asleep.start.hour, chosen.asleep.end.hour) == asleep
    assert chosen.standing is Standing.VERIFIED


def test_narrow_windows_serve_the_means_and_the_partition_is_whole() -> None:
    result = windows(a_recording(diary=Diary()))
    assert result.origin is WindowOrigin.GUIDELINE
    assert result.waking == ()
    awake, asleep = period(result, PeriodName.AWAKE), period(result, PeriodName.ASLEEP)
    assert shown(awake.means) == ["03 10:00-03 20:00"]
    assert shown(asleep.means) == ["04 00:00-04 06:00"]
    # the hours that neither window claims go half to each side: 20-24 and 06-10
    assert shown(awake.whole) == ["03 09:00-03 22:00", "04 08:00-04 09:00"]
    assert shown(asleep.whole) == ["03 22:00-04 08:00"]
    assert hours(awake.whole) + hours(asleep.whole) == 24


def test_site_windows_come_before_those_of_the_guideline() -> None:
    own = FixedWindows(
        awake=FixedWindow(start=time(7), end=time(23)),
        asleep=FixedWindow(start=time(23), end=time(7)),
        citation="settings",
        standing=Standing.VERIFIED,
    )
    result = windows(a_recording(diary=Diary()), windows=own)
    assert result.origin is WindowOrigin.SITE
    assert shown(period(result, PeriodName.ASLEEP).means) == ["03 23:00-04 07:00"]


def test_a_day_of_which_the_diary_says_nothing_goes_by_the_clock() -> None:
    """ESC 2024 takes the diary, and where there is none fixed times; a night is never counted as awake for want of
    an entry.
    """
    result = windows(a_recording(readings_over(hours=48)))
    assert (result.origin, result.by_clock) == (WindowOrigin.DIARY, (2,))
    first, second = ({p.name: p for p in result.periods if p.day == day} for day in (1, 2))
    assert shown(first[PeriodName.ASLEEP].means) == ["03 23:00-04 07:00"]
    alone = windows(a_recording(readings_over(hours=48), diary=Diary()))
    clock = {p.name: p for p in alone.periods if p.day == 2}
    assert second == clock
    assert alone.by_clock == (), "the origin says it of every day"


def test_a_nap_is_no_night_that_the_diary_knows() -> None:
    night = a_recording().diary.asleep[0]
    nap = Interval(datetime(2026, 3, 4, 14, tzinfo=LONDON), datetime(2026, 3, 4, 15, tzinfo=LONDON))
    result = windows(a_recording(readings_over(hours=48), diary=Diary(asleep=(night, nap))))
    assert result.by_clock == (2,)


# 2026 in Europe: clocks go forward on 29 March and back on 25 October (EU Directive 2000/84/EC)
@pytest.mark.parametrize(
    ("start", "local_end", "asleep_hours"),
    [
        (datetime(2026, 3, 28, 9, tzinfo=LONDON), "29 10:00", 7.0),
        (datetime(2026, 10, 24, 9, tzinfo=LONDON), "25 08:00", 9.0),
        (datetime(2026, 3, 3, 9, tzinfo=LONDON), "04 09:00", 8.0),
    ],
)
def test_24_hours_are_real_hours_across_a_clock_change(start: datetime, local_end: str, asleep_hours: float) -> None:
    night = Interval(
        start.replace(hour=23), (start + timedelta(days=1)).replace(hour=7)
    )  # by the clock on the wall, 23:00 to 07:00
    result = windows(a_recording(readings_over(start), diary=Diary(asleep=(night,))))
    whole, asleep = period(result, PeriodName.WHOLE), period(result, PeriodName.ASLEEP)
    assert hours(whole.whole) == 24
    assert f"{whole.whole[0].end:%d %H:%M}" == local_end
    assert hours(asleep.whole) == asleep_hours
    assert hours(period(result, PeriodName.AWAKE).whole) == 24 - asleep_hours


def test_clock_windows_across_a_clock_change() -> None:
    start = datetime(2026, 10, 24, 9, tzinfo=LONDON)
    result = windows(a_recording(readings_over(start), diary=Diary()), "nice-ng136")
    night = period(result, PeriodName.ASLEEP).whole
    assert shown(night) == ["24 22:00-25 08:00"]
    assert hours(night) == 11, "the night in which clocks go back has an hour more"
    assert night[0].start.utcoffset() == timedelta(hours=1)
    assert night[0].end.utcoffset() == timedelta()


def test_six_instants_in_the_hour_that_comes_twice() -> None:
    """Berlin, 25 October 2026: 01:40 to 03:10 with 02:10 and 02:40 twice; 02:30 the second time is the waking."""
    walls = [(1, 40, 0), (2, 10, 0), (2, 40, 0), (2, 10, 1), (2, 40, 1), (3, 10, 0)]
    instants = [datetime(2026, 10, 25, h, m, tzinfo=BERLIN, fold=f) for h, m, f in walls]
    second = datetime(2026, 10, 25, 2, 30, tzinfo=BERLIN, fold=1)
    night = Interval(datetime(2026, 10, 24, 22, tzinfo=BERLIN), second)
    start = datetime(2026, 10, 24, 9, tzinfo=BERLIN)
    result = windows(a_recording(readings_over(start), zone="Europe/Berlin", diary=Diary(asleep=(night,))))
    asleep = period(result, PeriodName.ASLEEP)
    assert [asleep.counts(at) for at in instants] == [True, True, True, True, False, False]
    assert hours(asleep.whole) == 5.5
    assert result.waking[0].timestamp() == second.timestamp()
    assert result.waking[0].utcoffset() == timedelta(hours=1)


def test_sleep_by_day_is_said() -> None:
    day = Interval(START.replace(hour=10), START.replace(hour=17))
    result = windows(a_recording(diary=Diary(asleep=(day,))))
    assert result.sleep_by_day
    assert not windows(a_recording()).sleep_by_day


def test_night_and_nap() -> None:
    nap = Interval(START.replace(hour=13), START.replace(hour=14))
    night = a_recording().diary.asleep[0]
    result = windows(a_recording(diary=Diary(asleep=(nap, night))))
    assert shown(period(result, PeriodName.ASLEEP).whole) == ["03 13:00-03 14:00", "03 23:00-04 07:00"]
    assert shown(period(result, PeriodName.AWAKE).whole) == [
        "03 09:00-03 13:00",
        "03 14:00-03 23:00",
        "04 07:00-04 09:00",
    ]
    assert [f"{at:%H:%M}" for at in result.waking] == ["14:00", "07:00"]
    assert not result.sleep_by_day


def test_getting_up_in_the_night_is_no_waking() -> None:
    first = Interval(START.replace(hour=22), START.replace(hour=23, minute=30))
    second = Interval(datetime(2026, 3, 4, 0, 10, tzinfo=LONDON), datetime(2026, 3, 4, 7, tzinfo=LONDON))
    result = windows(a_recording(diary=Diary(asleep=(first, second))))
    assert [f"{at:%H:%M}" for at in result.waking] == ["07:00"]


def test_48_hours_are_two_days() -> None:
    night = a_recording().diary.asleep[0]
    next_night = Interval(
        *((edge.astimezone(UTC) + timedelta(days=1)).astimezone(LONDON) for edge in (night.start, night.end))
    )
    result = windows(a_recording(readings_over(hours=48), diary=Diary(asleep=(night, next_night))))
    assert [(p.day, p.name) for p in result.periods] == [
        (day, name) for day in (1, 2) for name in (PeriodName.WHOLE, PeriodName.AWAKE, PeriodName.ASLEEP)
    ]
    assert shown(period(result, PeriodName.ASLEEP, 2).whole) == ["04 23:00-05 07:00"]
    assert len(result.waking) == 2


@pytest.mark.parametrize(("length", "days"), [(9, 1), (24, 1), (26, 1), (35.5, 1), (37, 2), (48, 2)])
def test_a_recording_of_25_hours_has_one_day(length: float, days: int) -> None:
    result = windows(a_recording(readings_over(hours=length)))
    assert max(p.day for p in result.periods) == days


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=LONDON)


# Under 3 hours, over 14 hours, outside the recording: our own bounds, common practice
@pytest.mark.parametrize(
    ("start", "end", "held"),
    [
        (at(3, 23), at(4, 1, 59), "less than 3 hours of sleep"),
        (at(3, 23), at(4, 2), None),
        (at(3, 18), at(4, 8), None),
        (at(3, 17, 59), at(4, 8), "more than 14 hours of sleep"),
        (at(5, 23), at(6, 7), "a time of sleep lies outside the recording"),
        (at(2, 23), at(3, 7), "a time of sleep lies outside the recording"),
        (at(3, 23), at(4, 12), None),
        (at(4, 7), at(4, 15), "less than 3 hours of sleep"),
    ],
)
def test_sleep_that_cannot_be_right_is_held(start: datetime, end: datetime, held: str | None) -> None:
    result = find(a_recording(diary=Diary(asleep=(Interval(start, end),))), rules())
    assert (result.detail if isinstance(result, Hold) else None) == held
