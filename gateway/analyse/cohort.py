"""The same statistics for many recordings at once, as arrays: one row per cell, values in tenths as reported.

    cohort(joined([cells(columns(examined.judged), windows.periods), …]))

Rounding is the one rule of the single road (half up, from exact whole numbers), so both give the same bits.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from gateway.analyse import kernels
from gateway.analyse.columns import Cells, Flags, Ints
from gateway.model import StatisticName


@dataclass(frozen=True, slots=True)
class Stated:
    """One statistic of every cell. `tenths` means something only where `present`; `count` as in `Statistic`."""

    tenths: Ints
    present: Flags
    count: Ints


def cohort(cells: Cells) -> Mapping[StatisticName, Stated]:
    """Means, extremes, SD, pulse pressure, hourly means and average real variability, shape (cells,) each."""
    table, starts = cells.columns, cells.starts
    rate = table.heart_rate[table.has_heart_rate]
    rate_starts = kernels.only(table.has_heart_rate, starts)
    rate_hour = cells.hour[table.has_heart_rate]
    found: dict[StatisticName, Stated] = {}
    for quantity, values, edges, hour in (
        ("systolic", table.systolic, starts, cells.hour),
        ("diastolic", table.diastolic, starts, cells.hour),
        ("heart-rate", rate, rate_starts, rate_hour),
    ):
        found.update(_of_quantity(quantity, kernels.moments(values, edges), kernels.hourly(values, hour, edges)))
    for quantity, values in (("systolic", table.systolic), ("diastolic", table.diastolic)):
        steps = kernels.steps(values, table.seconds, cells.stretch, starts)
        found.update(_of_steps(quantity, steps, np.diff(starts)))
    pulse = kernels.moments(table.systolic - table.diastolic, starts)
    found[StatisticName.PULSE_PRESSURE_MEAN] = _ratio(pulse.total, pulse.count, pulse.count)
    return found


def _of_quantity(
    quantity: str, moments: kernels.Moments, ratio: kernels.Ratio
) -> Iterator[tuple[StatisticName, Stated]]:
    n = moments.count
    yield StatisticName(f"{quantity}-mean"), _ratio(moments.total, n, n)
    yield StatisticName(f"{quantity}-mean-hourly"), _ratio(ratio.numerator, ratio.denominator, n)
    yield StatisticName(f"{quantity}-maximum"), Stated(moments.greatest, n > 0, n)
    yield StatisticName(f"{quantity}-minimum"), Stated(moments.least, n > 0, n)
    yield StatisticName(f"{quantity}-sd"), Stated(root(moments.spread, n * (n - 1)), n > 1, n)


def _of_steps(quantity: str, steps: kernels.Steps, count: Ints) -> Iterator[tuple[StatisticName, Stated]]:
    yield StatisticName(f"{quantity}-arv"), _ratio(steps.total, steps.pairs, count)
    yield StatisticName(f"{quantity}-arv-weighted"), _ratio(steps.weighted, steps.seconds, count)


def _ratio(numerator: Ints, denominator: Ints, count: Ints) -> Stated:
    return Stated(half_up(numerator, denominator), np.asarray(denominator != 0, dtype=np.bool_), count)


def half_up(numerator: Ints, denominator: Ints) -> Ints:
    """Whole-number division of values of at least 0, rounded half up; 0 where the denominator is 0."""
    safe = np.where(denominator == 0, 1, denominator)
    found = (2 * numerator + safe) // (2 * safe)
    return np.where(denominator == 0, 0, found).astype(np.int64)


def root(numerator: Ints, denominator: Ints) -> Ints:
    """Square root of a fraction of at least 0, rounded half up to a whole number; 0 where the denominator is 0.

    The floor of a floating-point root is exact below 2^52, and four times a variance of pressures in tenths stays
    far below that; `model.reported_root` does the same with numbers of any size.
    """
    safe = np.where(denominator == 0, 1, denominator)
    scaled = np.where(denominator == 0, 0, 4 * numerator // safe)
    doubled = np.floor(np.sqrt(scaled)).astype(np.int64)
    return (doubled + 1) // 2
