"""Worked tables, one per source. The source stands beside each."""

from decimal import Decimal
from fractions import Fraction
from math import isclose, pi, sqrt

import numpy as np
import pytest
from scipy import stats

from gateway.analyse import summarise
from gateway.analyse.averages import hourly
from gateway.analyse.curves import upper_tail
from gateway.analyse.rhythm import cosinor
from gateway.analyse.stating import average
from gateway.analyse.stiffness import aasi, aasi_symmetric
from gateway.analyse.tally import Line
from gateway.analyse.variability import arv, arv_weighted, cv, double_product, sd
from gateway.model import PeriodName, StatisticName, Unit
from tests.builders import a_recording, readings_over
from tests.unit.analyse.columns_of import one_tally
from tests.unit.analyse.examined import examined_of, rules_with

# Constructed by hand with round results; every figure was computed by two routes (exact fractions and numpy/scipy).
EIGHT = one_tally(
    minutes=[0, 20, 40, 70, 100, 130, 190, 220],
    systolic=[120, 130, 125, 140, 135, 150, 110, 130],
    diastolic=[76, 79, 79, 84, 84, 89, 68, 81],
)


def test_eight_readings_means_and_spread() -> None:
    assert average(EIGHT.systolic) == Decimal("130.0")
    assert average(EIGHT.diastolic) == Decimal("80.0")
    assert sqrt(EIGHT.systolic.spread / (8 * 7)) / 10 == pytest.approx(12.24744871391589, rel=1e-12)
    assert sd(EIGHT.systolic) == Decimal("12.2")
    assert cv(EIGHT.systolic) == Decimal("9.4")  # 9.4211…


def test_eight_readings_average_real_variability() -> None:
    # Mena 2005: simple Σ|Δ|/(n−1), time-weighted Σw·|Δ|/Σw
    steps = EIGHT.systolic_steps
    assert Fraction(steps.total, 10 * steps.pairs) == Fraction(110, 7)  # 15.7142857
    assert Fraction(steps.weighted, 10 * steps.seconds) == Fraction(4350, 220)  # 19.7727273
    assert (arv(steps), arv_weighted(steps)) == (Decimal("15.7"), Decimal("19.8"))


def test_eight_readings_stiffness() -> None:
    assert str(aasi(EIGHT.line)) == "0.50"
    assert aasi_symmetric(EIGHT.line) == pytest.approx(0.4872099736388349, rel=1e-12)


def test_stiffness_of_the_first_anscombe_set() -> None:
    # Anscombe 1973, set I: slope 0.500, intercept 3.00, r 0.816 as printed with the data
    x = [10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5]
    y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68]
    hundredths = [round(value * 100) for value in y]
    scaled = [100 * value for value in x]
    n = len(x)
    line = Line(
        count=n,
        xx=n * sum(a * a for a in scaled) - sum(scaled) ** 2,
        yy=n * sum(b * b for b in hundredths) - sum(hundredths) ** 2,
        xy=n * sum(a * b for a, b in zip(scaled, hundredths, strict=True)) - sum(scaled) * sum(hundredths),
    )
    assert line.xy / line.xx == pytest.approx(0.5000909090909091, rel=1e-12)
    assert line.xy / sqrt(line.xx * line.yy) == pytest.approx(0.816, abs=5e-4)
    assert str(aasi(line)) == "0.50"
    assert aasi_symmetric(line) == pytest.approx(0.38179364191806175, rel=1e-12)


NELSON_DEGREES = [97, 130, 167.5, 187.5, 218, 247.5, 285, 315, 337.5]
NELSON_VALUES = [102, 96.8, 97, 92.5, 95, 93, 99.4, 99.8, 105.5]


def test_cosinor_of_nelson_1979() -> None:
    # Nelson 1979, printed with a public single-cosinor routine (MathWorks file exchange 20329)
    found = cosinor(np.array(NELSON_DEGREES) / 15, np.array(NELSON_VALUES))
    assert found is not None
    assert found.mesor == pytest.approx(99.7269745887, rel=1e-10)
    assert found.amplitude == pytest.approx(6.38383296016, rel=1e-10)
    assert found.peak == pytest.approx(0.4754187912802497 * 24 / (2 * pi), rel=1e-9)  # 1.81597 h
    assert found.f == pytest.approx(16.949663846594948, rel=1e-10)
    # the same page prints 0.000511378765, which is the density at F; the upper tail is 0.0034006
    assert found.p == pytest.approx(0.003400611487748462, rel=1e-9)
    assert not isclose(found.p or 0, 0.000511378765161, rel_tol=0.5)


def test_cosinor_of_a_pure_cosine() -> None:
    # same page: 100 + 50·cos(2πt/24 − 0.6π), 600 points over 72 h, peak at 7.2 h
    hours = np.arange(600) * (72 / 600)
    found = cosinor(hours, 100 + 50 * np.cos(2 * pi * hours / 24 - 0.6 * pi))
    assert found is not None
    assert (found.mesor, found.amplitude, found.peak) == pytest.approx((100, 50, 7.2), rel=1e-10)
    assert found.f is None  # nothing is left over


@pytest.mark.parametrize("below", [1, 2, 6, 37, 93])
@pytest.mark.parametrize("f", [0.0, 0.3, 1.0, 5.5, 16.949663846594948, 120.0])
def test_upper_tail_of_f_against_scipy(f: float, below: int) -> None:
    assert upper_tail(np.array([f]), np.array([below]))[0] == pytest.approx(stats.f.sf(f, 2, below), rel=1e-9)


def constant(systolic: float, diastolic: float, heart_rate: float) -> list[Decimal | None]:
    readings = readings_over(profile=lambda _: (systolic, diastolic, heart_rate))
    recording = a_recording(readings)
    found = summarise(recording, examined_of(recording), rules_with())
    names = (
        StatisticName.MEAN_PRESSURE_DERIVED,
        StatisticName.PULSE_PRESSURE_MEAN,
        StatisticName.DOUBLE_PRODUCT_MEAN,
    )
    stated = [found.statistic(name, PeriodName.AWAKE) for name in names]
    return [one.value for one in stated if one]


def test_mean_pressure_pulse_pressure_and_double_product() -> None:
    # mean pressure: printed 93.33 and 100 (cravencountryjamboree, qammunity); pulse pressure 40 and 45;
    # double product 120·70 = 8400 (calculatorlib.com)
    assert constant(120, 80, 70) == [Decimal("93.3"), Decimal("40.0"), Decimal(8400)]
    assert constant(130, 85, 70)[:2] == [Decimal("100.0"), Decimal("45.0")]
    # 83/50 -> 61 (qammunity 20424589); 180·150 = 27000 (calculatorlib.com)
    assert constant(83, 50, 70)[0] == Decimal("61.0")
    assert constant(180, 110, 150)[2] == Decimal(27000)
    assert double_product(one_tally([0, 30], [120, 130], [80, 80], [None, 70])) == Decimal(9100)


def test_mean_of_hourly_means_is_not_pulled_by_dense_sampling() -> None:
    # Octavio 2010 (J Hypertens 28:459): the plain mean is too high when the day is sampled more densely.
    # Here 3 readings of 150 in the first hour and 1 of 120 in the second: plain 142.5, hourly 135
    found = one_tally([0, 20, 40, 60], [150, 150, 150, 120], [90, 90, 90, 70])
    assert average(found.systolic) == Decimal("142.5")
    assert hourly(found.systolic_hourly) == Decimal("135.0")
    assert found.systolic_hourly.hours == 2


def test_load_counts_a_reading_on_the_limit() -> None:
    # White 1989 counts above, the guideline file says "at or above": 3 of the 8 readings reach 135
    recording = a_recording(readings_over(hours=4, every=lambda _: 30, profile=_eight()), diary=a_recording().diary)
    found = summarise(recording, examined_of(recording), rules_with())
    load = found.statistic(StatisticName.SYSTOLIC_LOAD, PeriodName.AWAKE)
    assert load is not None
    assert (load.value, load.unit, load.count) == (Decimal("37.5"), Unit.PERCENT, 8)


def _eight():  # type: ignore[no-untyped-def]
    values = iter([(120, 76), (130, 79), (125, 79), (140, 84), (135, 84), (150, 89), (110, 68), (130, 81)])
    return lambda _: (*next(values), 70)
