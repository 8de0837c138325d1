"""Arrays for many recordings say exactly what single summaries say."""

from math import isqrt

import numpy as np
import pytest

from gateway.analyse import summarise
from gateway.analyse.cohort import cohort, half_up, root
from gateway.analyse.columns import cells, columns, joined
from gateway.model import in_tenths
from tests.builders import a_reading, a_recording, readings_over
from tests.unit.analyse.examined import examined_of, rules_with


def recordings() -> list[object]:
    """Different lengths and steps, one with a single reading, one without any valid one, one crowded hour."""
    found = [a_recording(readings_over(hours=hours, every=lambda at: 7 + at.hour)) for hours in (1, 9, 16, 24)]
    found.append(a_recording([a_reading()]))
    found.append(a_recording(readings_over(hours=1)))  # two readings: the fewest that have a spread
    found.append(a_recording([a_reading(systolic=None, diastolic=None)]))
    found.append(a_recording(readings_over(hours=2, every=lambda _: 1)))  # 60 in an hour: past 64-bit multiples
    return list(found)


def test_every_array_agrees_with_the_single_summary() -> None:
    together = [(recording, examined_of(recording)) for recording in recordings()]  # type: ignore[arg-type]
    tables = [cells(columns(e.judged), e.windows.periods) for _, e in together if e.windows]
    found = cohort(joined(tables))
    spots = [
        (summarise(recording, examined, rules_with()), period)  # type: ignore[arg-type]
        for recording, examined in together
        if examined.windows
        for period in examined.windows.periods
    ]
    compared = 0
    for name, stated in found.items():
        for place, (summary, period) in enumerate(spots):
            single = summary.statistic(name, period.name, period.day)
            if single is None:  # hourly means are stated for 24 hours only
                assert "hourly" in name
                continue
            compared += 1
            assert stated.count[place] == single.count, (name, place)
            assert stated.present[place] == (single.value is not None), (name, place)
            if single.value is not None:
                assert stated.tenths[place] == in_tenths(single.value), (name, place)
    assert compared > 300


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
