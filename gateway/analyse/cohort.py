"""The same statistics for many recordings at once, as arrays: one row per cell, values in tenths as reported.

    many = joined([cells(columns(examined.judged), windows.periods), …])
    cohort(many)
    loads(many, systolic=np.array([1300, 1350, 1200, …]), diastolic=…)
    rhythm.rhythms(many, began, clock)

Rounding is the one rule of the single road (half up, from exact whole numbers), so both give the same bits. The
curves of `rhythm.rhythms` are unrounded; `model.rounded` reports them.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from gateway.analyse import kernels
from gateway.analyse.columns import Cells, Flags, Ints
from gateway.model import StatisticName

_ROOM = 2.0**62


@dataclass(frozen=True, slots=True)
class Stated:
    """One statistic of every cell. `tenths` means something only where `present`; `count` as in `Statistic`."""

    tenths: Ints
    present: Flags
    count: Ints


def cohort(cells: Cells) -> Mapping[StatisticName, Stated]:
    """Means, extremes, SD, CV, hourly means, average real variability, pulse pressure, mean pressure and double
    product; shape (cells,) each."""
    table, starts = cells.columns, cells.starts
    rate, rate_starts, rate_hour = (
        table.heart_rate[table.has_heart_rate],
        kernels.only(table.has_heart_rate, starts),
        cells.hour[table.has_heart_rate],
    )
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
        found[StatisticName(f"{quantity}-cv")] = _cv(kernels.moments(values, starts))
    found.update(_of_pressures(cells, found[StatisticName.SYSTOLIC_MEAN], found[StatisticName.DIASTOLIC_MEAN]))
    product = kernels.sums(table.systolic[table.has_heart_rate] * rate, rate_starts)
    whole = _ratio(product, 100 * np.diff(rate_starts), np.diff(rate_starts))
    found[StatisticName.DOUBLE_PRODUCT_MEAN] = replace(whole, tenths=10 * whole.tenths)
    return found


def loads(cells: Cells, systolic: Ints, diastolic: Ints) -> Mapping[StatisticName, Stated]:
    """Per cent of readings at or above the limits of each cell (tenths of mmHg, shape (cells,)); a limit of 0: the
    guideline states none for that cell."""
    found: dict[StatisticName, Stated] = {}
    for name, values, limits in (
        (StatisticName.SYSTOLIC_LOAD, cells.columns.systolic, systolic),
        (StatisticName.DIASTOLIC_LOAD, cells.columns.diastolic, diastolic),
    ):
        count = np.diff(cells.starts)
        share = _ratio(100 * 10 * kernels.reached(values, limits, cells.starts), count, count)
        found[name] = replace(share, present=share.present & (limits > 0))
    return found


def _of_pressures(cells: Cells, upper: Stated, lower: Stated) -> Iterator[tuple[StatisticName, Stated]]:
    """Pulse pressure, and both kinds of mean pressure: as measured, and derived from the reported means."""
    table, starts = cells.columns, cells.starts
    count = np.diff(starts)
    yield (
        StatisticName.PULSE_PRESSURE_MEAN,
        _ratio(kernels.sums(table.systolic - table.diastolic, starts), count, count),
    )
    measured = kernels.only(table.has_mean, starts)
    n = np.diff(measured)
    yield StatisticName.MEAN_PRESSURE_MEAN, _ratio(kernels.sums(table.mean[table.has_mean], measured), n, n)
    thirds = upper.tenths + 2 * lower.tenths
    yield StatisticName.MEAN_PRESSURE_DERIVED, Stated(half_up(thirds, np.full_like(thirds, 3)), upper.present, count)


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


def _cv(moments: kernels.Moments) -> Stated:
    """100·SD/mean: √(10⁴·n·spread / ((n − 1)·total²)), asked for in tenths, from numbers of any size if need be."""
    n = moments.count
    most = 4e6 * float(moments.spread.max(initial=0)) * float(n.max(initial=0))
    exact = np.int64 if most < _ROOM else np.object_
    numerator = moments.spread.astype(exact) * n.astype(exact) * 1_000_000
    return Stated(root(numerator, (n - 1) * moments.total**2), n > 1, n)


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
    scaled = np.where(denominator == 0, 0, 4 * numerator // safe).astype(np.int64)
    doubled = np.floor(np.sqrt(scaled)).astype(np.int64)
    return (doubled + 1) // 2
