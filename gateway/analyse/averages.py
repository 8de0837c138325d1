"""Means, extremes, pulse pressure, mean pressure and load of one period, all exact.

Means are sums of tenths divided once and rounded half up to one decimal (design: one rounding rule). The mean
pressure that the monitor measured and the one derived as DBP + (SBP − DBP)/3 are kept apart.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from math import ceil

import numpy as np

from gateway.analyse import kernels
from gateway.analyse.columns import Cells
from gateway.analyse.stating import Place, average, state
from gateway.analyse.tally import Moments, Ratio, Tally
from gateway.analyse.words import Because
from gateway.mapping.guideline import Guideline
from gateway.model import PeriodName, Statistic, StatisticName, in_tenths, reported

_QUANTITIES = {
    "systolic": Because.NO_READING,
    "diastolic": Because.NO_READING,
    "heart-rate": Because.NO_HEART_RATE,
}


def averages(tally: Tally, place: Place) -> Iterator[Statistic]:
    """Means, 24-hour means by hours, extremes, pulse pressure, mean pressure."""
    parts = {"systolic": tally.systolic, "diastolic": tally.diastolic, "heart-rate": tally.heart_rate}
    for quantity, moments in parts.items():
        missing = _QUANTITIES[quantity]
        found = average(moments)
        name = StatisticName(f"{quantity}-mean")
        yield state(name, place, moments.count, missing if found is None else found)
        yield from _extremes(quantity, moments, place, missing)
    if place.period is PeriodName.WHOLE:
        yield from _hourly(tally, place)
    yield from _pressures(tally, place)


def _extremes(quantity: str, moments: Moments, place: Place, missing: Because) -> Iterator[Statistic]:
    for word, value in (("maximum", moments.greatest), ("minimum", moments.least)):
        found = reported(value, 10) if moments.count else missing
        yield state(StatisticName(f"{quantity}-{word}"), place, moments.count, found)


def _hourly(tally: Tally, place: Place) -> Iterator[Statistic]:
    for quantity, ratio, moments in (
        ("systolic", tally.systolic_hourly, tally.systolic),
        ("diastolic", tally.diastolic_hourly, tally.diastolic),
        ("heart-rate", tally.heart_rate_hourly, tally.heart_rate),
    ):
        found = hourly(ratio)
        name = StatisticName(f"{quantity}-mean-hourly")
        yield state(name, place, moments.count, _QUANTITIES[quantity] if found is None else found)


def hourly(ratio: Ratio) -> Decimal | None:
    """Mean of hourly means, half up to one decimal; hours without a reading are left out, not filled in."""
    return reported(ratio.numerator, 10 * ratio.denominator) if ratio.hours else None


def _pressures(tally: Tally, place: Place) -> Iterator[Statistic]:
    upper, lower, measured = tally.systolic, tally.diastolic, average(tally.mean)
    yield state(
        StatisticName.PULSE_PRESSURE_MEAN,
        place,
        upper.count,
        reported(upper.total - lower.total, 10 * upper.count) if upper.count else Because.NO_READING,
    )
    yield state(
        StatisticName.MEAN_PRESSURE_MEAN,
        place,
        tally.mean.count,
        Because.NO_MEAN_PRESSURE if measured is None else measured,
    )
    systolic, diastolic = average(upper), average(lower)
    derived: Decimal | Because = Because.NO_READING
    if systolic is not None and diastolic is not None:
        derived = reported(in_tenths(systolic) + 2 * in_tenths(diastolic), 30)
    yield state(StatisticName.MEAN_PRESSURE_DERIVED, place, upper.count, derived)


def loads(
    cells: Cells, spots: Sequence[tuple[PeriodName, int]], guideline: Guideline, allowed: bool
) -> Iterator[Statistic]:
    """Per cent of readings at or above the guideline's load limit of the period, for every cell at once.

    `allowed` False: no limits may be applied to this person, so there is no load either.
    """
    limits = {limit.period: limit for limit in guideline.load}
    count = np.diff(cells.starts).tolist()
    for quantity, values in (("systolic", cells.columns.systolic), ("diastolic", cells.columns.diastolic)):
        each = [_tenths(getattr(limits.get(period), quantity, Decimal(0))) for period, _ in spots]
        reached = kernels.reached(values, np.array(each, dtype=np.int64), cells.starts).tolist()
        for (period, day), total, above in zip(spots, count, reached, strict=True):
            found: Decimal | Because = reported(100 * above, total) if total else Because.NO_READING
            if not allowed:
                found = Because.NO_LIMITS
            elif period not in limits:
                found = Because.NO_LOAD_LIMIT
            yield state(StatisticName(f"{quantity}-load"), Place(period, day), total, found)


def _tenths(limit: Decimal) -> int:
    return ceil(limit * 10)
