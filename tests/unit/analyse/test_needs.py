"""What each statistic needs before it is stated, at the edge of the need."""

from datetime import datetime
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from gateway.analyse.columns import Columns, Seconds
from gateway.analyse.rhythm import cosinor, rhythm
from gateway.analyse.stiffness import lacking, stiffness
from gateway.analyse.surge import first_hour, surges
from gateway.analyse.tally import Line, Moments, Steps
from gateway.analyse.variability import arv, arv_weighted, cv, sd, weighted_sd
from gateway.analyse.words import Because
from gateway.mapping.studies import NEEDS
from gateway.model import Statistic, StatisticName
from tests.builders import LONDON
from tests.unit.analyse.columns_of import ints, one_cell


def line(n: int = 20, sd_tenths: int = 50, r: Fraction = Fraction(1, 2)) -> Line:
    """A line with exactly this systolic SD and correlation; diastolic spread equals the systolic one."""
    xx = n * (n - 1) * sd_tenths**2
    return Line(count=n, xx=xx, yy=xx, xy=int(xx * r))


@pytest.mark.parametrize(
    ("found", "reason"),
    [
        (line(), None),
        (line(n=19), Because.FEW_FOR_STIFFNESS),
        (line(sd_tenths=49), Because.LITTLE_SPREAD),
        (line(r=Fraction(499, 1000)), Because.LOOSE_LINE),
        (line(r=Fraction(-9, 10)), Because.LOOSE_LINE),
        (line(r=Fraction(0)), Because.LOOSE_LINE),
    ],
)
def test_stiffness_needs_readings_spread_and_correlation(found: Line, reason: Because | None) -> None:
    assert lacking(found) is reason
    stated = list(stiffness(found, 1, irregular=False))
    assert [one.reason for one in stated] == [reason and reason.value] * 2


def test_diastolic_pressures_all_alike_have_no_line() -> None:
    flat = Line(count=30, xx=30 * 29 * 100**2, yy=0, xy=0)
    assert lacking(flat) is Because.LOOSE_LINE


def test_stiffness_of_a_tight_line() -> None:
    first, second = stiffness(line(r=Fraction(4, 5)), 2, irregular=False)
    assert (str(first.value), first.day, first.count) == ("0.20", 2, 20)
    assert str(second.value) == "0.00"  # equal spreads: the bisector has slope 1
    withheld = stiffness(line(), 1, irregular=True)
    assert {one.reason for one in withheld} == {Because.IRREGULAR.value}


def curve(hours: np.ndarray, peak: float = 15.0) -> list[Statistic]:  # type: ignore[type-arg]
    began = datetime(2026, 3, 3, 9, 0, tzinfo=LONDON)
    values = np.rint(1300 + 100 * np.cos((hours + 9 - peak) * np.pi / 12) + np.arange(len(hours)) % 3).astype(
        np.int64
    )
    return day_of(hours, values, began)


def day_of(hours: np.ndarray, values: np.ndarray, began: datetime) -> list[Statistic]:  # type: ignore[type-arg]
    one = one_cell(hours * 60 + began.timestamp() / 60, values / 10, values / 10 - 50)
    return list(rhythm(one, [began], [1]))


def named(found: list[Statistic], name: StatisticName) -> Statistic:
    return next(one for one in found if one.name is name)


@pytest.mark.parametrize(
    ("hours", "stated"),
    [
        (np.linspace(0, 20, 20), True),
        (np.linspace(0, 23, 19), False),
        (np.linspace(0, 19.9, 40), False),
        (np.array([0.0] * 10 + [20.0] * 10), False),
    ],
)
def test_rhythm_needs_20_readings_over_20_hours_at_several_times(hours: np.ndarray, stated: bool) -> None:  # type: ignore[type-arg]
    found = curve(hours)
    assert len(found) == 10
    assert all((one.value is not None) is stated for one in found)


def test_peak_is_local_clock_time_and_wraps_at_midnight() -> None:
    hours = np.linspace(0, 23.5, 48)
    assert abs((named(curve(hours), StatisticName.SYSTOLIC_PEAK_TIME).value or 0) - 15) < Decimal("0.1")
    late = named(curve(hours, peak=23.999), StatisticName.SYSTOLIC_PEAK_TIME).value
    assert late is not None and 0 <= late < 24


def test_a_flat_curve_has_no_peak_and_no_test() -> None:
    hours = np.linspace(0, 23.5, 48)
    began = datetime(2026, 3, 3, 9, 0, tzinfo=LONDON)
    found = day_of(hours, np.full(48, 1300), began)
    assert named(found, StatisticName.SYSTOLIC_MESOR).value == Decimal("130.0")
    assert named(found, StatisticName.SYSTOLIC_AMPLITUDE).value == Decimal("0.0")
    for name in (
        StatisticName.SYSTOLIC_PEAK_TIME,
        StatisticName.SYSTOLIC_RHYTHM_F,
        StatisticName.SYSTOLIC_RHYTHM_P,
    ):
        assert named(found, name).reason == Because.NO_RHYTHM.value


def test_a_tiny_p_is_never_told_as_nought() -> None:
    assert named(curve(np.linspace(0, 23.5, 90)), StatisticName.SYSTOLIC_RHYTHM_P).value == Decimal("0.000001")


def test_three_readings_fit_no_curve() -> None:
    assert cosinor(np.array([0.0, 8.0, 16.0]), np.array([1.0, 2.0, 4.0])) is None
    assert cosinor(np.array([0.0, 6.0, 12.0, 19.0]), np.array([1.0, 2.0, 4.0, 1.0])) is not None


def table(minutes: list[int], systolic: list[int]) -> Columns:
    absent = np.full(len(minutes), -1)
    return Columns(
        seconds=ints(minutes, 60),
        systolic=ints(systolic, 10),
        diastolic=ints([80] * len(minutes), 10),
        heart_rate=absent,
        has_heart_rate=absent > 0,
        mean=absent,
        has_mean=absent > 0,
    )


NIGHT = table([300, 330, 360, 390, 420], [120, 108, 104, 108, 116])


def test_windows_of_the_surges_are_half_open() -> None:
    # waking at minute 480: before 360 <= t < 480, after 480 <= t < 600; trough 104 with both neighbours 30 min away
    day = table([359, 360, 479, 480, 599, 600], [190, 110, 120, 140, 150, 190])
    trough, waking, morning = surges(day, NIGHT, Seconds(480 * 60), 1)
    assert (trough.value, trough.count) == (Decimal("38.3"), 5)  # 145 − 106.67
    assert (waking.value, waking.count) == (Decimal("30.0"), 4)
    assert (morning.value, morning.count) == (Decimal("145.0"), 2)


@pytest.mark.parametrize(
    ("minutes", "night", "reasons"),
    [
        ([380, 400, 500, 520], NIGHT, [None, None, None]),
        ([400, 500, 520], NIGHT, [None, Because.FEW_BEFORE_WAKING, None]),
        ([380, 400, 500], NIGHT, [Because.FEW_AFTER_WAKING] * 3),
        ([380, 400, 500, 520], table([300, 360], [110, 104]), [Because.FEW_AT_TROUGH, None, None]),
        ([380, 400, 500, 520], None, [Because.FEW_AT_TROUGH, None, None]),
        ([380, 400, 500, 520], table([], []), [Because.FEW_AT_TROUGH, None, None]),
    ],
)
def test_surges_need_two_readings_in_each_window(
    minutes: list[int], night: Columns | None, reasons: list[Because | None]
) -> None:
    found = surges(table(minutes, [130] * len(minutes)), night, Seconds(480 * 60), 1)
    assert [one.reason for one in found] == [reason and reason.value for reason in reasons]


def test_first_hour_is_half_open() -> None:
    found = list(first_hour(table([0, 59, 60], [150, 140, 100]), Seconds(0)))
    assert [(one.value, one.count) for one in found] == [(Decimal("145.0"), 2), (Decimal("80.0"), 2)]
    assert next(first_hour(table([60], [150]), Seconds(0))).reason == Because.NO_FIRST_HOUR.value


def test_spread_and_variability_without_enough_readings() -> None:
    one = Moments(count=1, total=1300, spread=0, least=1300, greatest=1300)
    two = Moments(count=2, total=2600, spread=200, least=1295, greatest=1305)
    assert (sd(one), cv(one)) == (Because.ONE_READING, Because.ONE_READING)
    assert (sd(two), cv(two)) == (Decimal("1.0"), Decimal("0.8"))
    assert arv(Steps(0, 0, 0, 0)) is Because.NO_PAIR
    assert arv_weighted(Steps(0, 0, 0, 0)) is Because.NO_PAIR
    assert arv_weighted(Steps(1, 30, 0, 0)) is Because.NO_TIME
    for pair in ((one, two), (two, one)):
        assert weighted_sd(*pair, 16, 8) is Because.NO_AWAKE_OR_ASLEEP
    assert weighted_sd(two, two, 16, 8) == pytest.approx(1.0)


def test_reasons_name_the_numbers_in_force() -> None:
    assert f"it needs {NEEDS.stiffness_readings} valid readings" in Because.FEW_FOR_STIFFNESS
    assert f"{NEEDS.rhythm_readings} valid readings over {NEEDS.rhythm_span} hours" in Because.FEW_FOR_RHYTHM
    words = {2: "two"}[NEEDS.surge_readings]
    few = (Because.FEW_AFTER_WAKING, Because.FEW_BEFORE_WAKING, Because.FEW_AT_TROUGH)
    assert all(f"fewer than {words} valid readings" in reason for reason in few)
