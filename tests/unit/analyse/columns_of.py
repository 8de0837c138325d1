"""Cells made from plain lists, for tests of single formulas."""

from collections.abc import Sequence

import numpy as np

from gateway.analyse.columns import Cells, Columns, Ints
from gateway.analyse.tally import Tally, tallies


def ints(values: Sequence[float], factor: int = 1) -> Ints:
    return np.array([round(value * factor) for value in values], dtype=np.int64)


def one_cell(
    minutes: Sequence[float],
    systolic: Sequence[float],
    diastolic: Sequence[float],
    heart_rate: Sequence[float | None] | None = None,
) -> Cells:
    """One period: minutes since its start, pressures in mmHg of at most one decimal."""
    seconds = ints(minutes, 60)
    rates = heart_rate or [None] * len(seconds)
    absent = np.full(len(seconds), -1, dtype=np.int64)
    return Cells(
        columns=Columns(
            seconds=seconds,
            systolic=ints(systolic, 10),
            diastolic=ints(diastolic, 10),
            heart_rate=ints([-0.1 if rate is None else rate for rate in rates], 10),
            has_heart_rate=np.array([rate is not None for rate in rates], dtype=np.bool_),
            mean=absent,
            has_mean=absent > 0,
        ),
        starts=np.array([0, len(seconds)], dtype=np.int64),
        stretch=np.zeros(len(seconds), dtype=np.int64),
        hour=seconds // 3600,
    )


def one_tally(
    minutes: Sequence[float],
    systolic: Sequence[float],
    diastolic: Sequence[float],
    heart_rate: Sequence[float | None] | None = None,
) -> Tally:
    (found,) = tallies(one_cell(minutes, systolic, diastolic, heart_rate))
    return found
