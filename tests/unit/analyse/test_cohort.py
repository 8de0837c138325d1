"""Arrays for many recordings say exactly what single summaries say."""

from dataclasses import replace
from functools import cache
from math import isqrt

import numpy as np
import pytest

from gateway.analyse import summarise
from gateway.analyse.cohort import cohort, half_up, loads, root
from gateway.analyse.columns import Cells, Ints, cells, columns, instant, joined
from gateway.analyse.rhythm import clock_of, each, rhythms
from gateway.analyse.variability import cv
from gateway.model import Period, PeriodName, Recording, StatisticName, Summary, Tenths, in_tenths, rounded
from tests.builders import a_reading, a_recording, readings_over
from tests.unit.analyse.columns_of import one_cell, one_tally
from tests.unit.analyse.examined import examined_of, rules_with


def recordings() -> list[Recording]:
    """Different lengths and steps, one with a single reading, one without any valid one, one crowded hour."""
    found = [a_recording(readings_over(hours=hours, every=lambda at: 7 + at.hour)) for hours in (1, 9, 16, 24)]
    found.append(a_recording([a_reading()]))
    found.append(a_recording(readings_over(hours=1)))  # two readings: the fewest that have a spread
    found.append(a_recording([a_reading(systolic=None, diastolic=None)]))
    measured = [replace(one, mean=Tenths(997 + n)) for n, one in enumerate(readings_over(hours=20)[:30])]
    found.append(a_recording([*measured, *readings_over(hours=24)[30:]]))  # a mean pressure in some readings
    found.append(a_recording(readings_over(hours=2, every=lambda _: 1)))  # 60 in an hour: past 64-bit multiples
    return found


RULES = rules_with()


@cache
def spots() -> list[tuple[Summary, Period]]:
    """Every period of every recording with its single summary, in the order of the cells of `many`."""
    together = [(recording, examined_of(recording)) for recording in recordings()]
    return [
        (summarise(recording, examined, RULES), period)
        for recording, examined in together
        if examined.windows
        for period in examined.windows.periods
    ]


@cache
def many() -> Cells:
    together = [examined_of(recording) for recording in recordings()]
    return joined([cells(columns(one.judged), one.windows.periods) for one in together if one.windows])


def limits_of(quantity: str) -> Ints:
    each = {one.period: getattr(one, quantity) for one in RULES.guideline.load}
    return np.array([int(10 * each[period.name]) for _, period in spots()])


def test_every_array_agrees_with_the_single_summary() -> None:
    found = {**cohort(many()), **loads(many(), limits_of("systolic"), limits_of("diastolic"))}
    assert len(found) == 27
    compared = 0
    for name, stated in found.items():
        for place, (summary, period) in enumerate(spots()):
            single = summary.statistic(name, period.name, period.day)
            if single is None:  # hourly means are stated for 24 hours only
                assert "hourly" in name
                continue
            compared += 1
            assert stated.count[place] == single.count, (name, place)
            assert stated.present[place] == (single.value is not None), (name, place)
            if single.value is not None:
                assert stated.tenths[place] == in_tenths(single.value), (name, place)
    assert compared == 24 * len(spots()) + 3 * sum(period.name is PeriodName.WHOLE for _, period in spots())


def test_no_load_where_the_guideline_states_no_limit() -> None:
    none = np.zeros(len(spots()), dtype=np.int64)
    found = loads(many(), none, limits_of("diastolic"))
    assert not found[StatisticName.SYSTOLIC_LOAD].present.any()
    assert found[StatisticName.DIASTOLIC_LOAD].present.any()


def test_every_curve_agrees_with_the_single_summary_to_the_last_bit() -> None:
    begun = [min(span.start for span in period.means) for _, period in spots()]
    began = np.array([instant(moment) for moment in begun])
    clock = np.array([clock_of(moment) for moment in begun])
    stated = 0
    for quantity, fitted in rhythms(many(), began, clock).items():
        for place, one in enumerate(each(fitted)):
            alone = rhythms(many().only([place]), began[place : place + 1], clock[place : place + 1])
            assert [one] == list(each(alone[quantity]))  # equal floats, not close ones
            summary, period = spots()[place]
            single = summary.statistic(StatisticName(f"{quantity}-amplitude"), None, period.day)
            if single is not None and period.name is PeriodName.WHOLE:
                stated += one is not None
                assert single.value == (None if one is None else rounded(one.amplitude))
    assert stated >= 4


def test_coefficients_of_variation_too_large_for_64_bits() -> None:
    """600 readings between 40 and 300 mmHg: 130.1 of 170 is 76.5 %; 4·10⁶·n·spread passes 2^63."""
    values = [40 + 260 * (n % 2) for n in range(600)]
    one = one_cell(list(range(600)), values, values)
    tally = one_tally(list(range(600)), values, values)
    assert in_tenths(cv(tally.systolic)) == cohort(one)[StatisticName.SYSTOLIC_CV].tenths[0] == 765


def test_half_up_of_whole_numbers() -> None:
    found = half_up(np.array([5, 15, 14, 7, 3]), np.array([10, 10, 10, 2, 0]))
    assert found.tolist() == [1, 2, 1, 4, 0]


@pytest.mark.parametrize("scale", [1, 10**5, 10**11])
def test_roots_near_every_half(scale: int) -> None:
    """Around (k + ½)² the rounding turns; whole numbers decide it exactly."""
    numbers = np.array([scale * k * (k + 1) + d for k in range(1, 300) for d in (-1, 0, 1)], dtype=np.int64)
    expected = [(isqrt(4 * n // scale) + 1) // 2 for n in numbers.tolist()]
    assert root(numbers, np.full(len(numbers), scale)).tolist() == expected
    assert root(np.array([7]), np.array([0])).tolist() == [0]
