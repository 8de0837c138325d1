"""The same numbers by other roads: pandas (means, SD, hours), scipy (line), statsmodels (cosinor), within 1e-9.

`GENERATED` in the environment sets how many recordings are made (default 100).
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass, fields
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import sqrt

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from numpy.typing import NDArray
from scipy import stats

from gateway.analyse.averages import hourly
from gateway.analyse.columns import Cells, Columns, joined
from gateway.analyse.rhythm import cosinor
from gateway.analyse.stating import average
from gateway.analyse.stiffness import aasi_symmetric
from gateway.analyse.tally import Moments, Ratio, Steps, Tally, tallies
from gateway.analyse.variability import sd, weighted_sd

COUNT = int(os.environ.get("GENERATED", "100"))
BLOCKS = 10
CLOSE = {"rel": 1e-9, "abs": 1e-9}


@dataclass(frozen=True)
class Made:
    cells: Cells
    table: pd.DataFrame


def made(seed: int) -> Made:
    """24 hours at uneven steps with gaps, whole tenths of mmHg, some heart rates missing."""
    random = np.random.default_rng(seed)
    size = int(random.integers(30, 110))
    minutes = np.sort(random.choice(24 * 60, size=size, replace=False))
    clock = minutes / 60
    wave = 120 * np.cos((clock - random.uniform(4, 14)) * 2 * np.pi / 24)
    systolic = np.rint(1300 + wave + random.normal(0, 90, size)).astype(np.int64)
    diastolic = np.rint(0.5 * systolic + 150 + random.normal(0, 50, size)).astype(np.int64)
    rate = np.rint(700 + random.normal(0, 80, size)).astype(np.int64)
    has_rate = random.random(size) > 0.1
    awake = (clock >= 7) & (clock < 23)
    parts = [np.arange(size), np.flatnonzero(awake), np.flatnonzero(~awake)]
    pick = np.concatenate(parts)
    seconds = minutes * 60
    stretch = [
        np.zeros(size, dtype=np.int64),
        np.zeros(int(awake.sum()), np.int64),
        (clock[~awake] >= 23).astype(int),
    ]
    begin = np.repeat([0, 7 * 3600, 0], [len(part) for part in parts])
    columns = Columns(
        seconds=seconds[pick],
        systolic=systolic[pick],
        diastolic=diastolic[pick],
        heart_rate=np.where(has_rate, rate, -1)[pick],
        has_heart_rate=has_rate[pick],
        mean=np.full(len(pick), -1),
        has_mean=np.zeros(len(pick), dtype=np.bool_),
    )
    table = pd.DataFrame(
        {
            "cell": np.repeat([0, 1, 2], [len(part) for part in parts]),
            "stretch": np.concatenate(stretch),
            "seconds": seconds[pick],
            "hour": (seconds[pick] - begin) // 3600,
            "systolic": systolic[pick] / 10,
            "diastolic": diastolic[pick] / 10,
            "heart_rate": np.where(has_rate, rate / 10, np.nan)[pick],
        }
    )
    cells = Cells(
        columns=columns,
        starts=np.cumsum([0, *(len(part) for part in parts)]),
        stretch=np.concatenate(stretch).astype(np.int64),
        hour=((seconds[pick] - begin) // 3600).astype(np.int64),
    )
    return Made(cells, table)


def made_in(block: int) -> Iterator[Made]:
    return (made(seed) for seed in range(block, COUNT, BLOCKS))


def part(moments: Moments) -> tuple[float, float]:
    n = moments.count
    return moments.total / n / 10, sqrt(moments.spread / (n * (n - 1))) / 10


@pytest.mark.parametrize("block", range(BLOCKS))
def test_moments_hours_and_steps_against_pandas(block: int) -> None:
    for one in made_in(block):
        for cell, tally in enumerate(tallies(one.cells)):
            rows = one.table[one.table.cell == cell]
            for name in ("systolic", "diastolic", "heart_rate"):
                moments: Moments = getattr(tally, name)
                values = rows[name].dropna()
                assert moments.count == len(values)
                assert part(moments) == pytest.approx((values.mean(), values.std(ddof=1)), **CLOSE)
                assert (moments.least / 10, moments.greatest / 10) == (values.min(), values.max())
                ratio: Ratio = getattr(tally, f"{name}_hourly")
                by_hour = rows.groupby("hour")[name].mean().dropna()
                assert ratio.numerator / ratio.denominator / 10 == pytest.approx(by_hour.mean(), **CLOSE)
                assert ratio.hours == len(by_hour)
            for name in ("systolic", "diastolic"):
                steps: Steps = getattr(tally, f"{name}_steps")
                grouped = rows.groupby("stretch")
                change, wait = grouped[name].diff().abs(), grouped["seconds"].diff()
                assert steps.pairs == change.notna().sum()
                assert steps.total / steps.pairs / 10 == pytest.approx(change.mean(), **CLOSE)
                weighted = (change * wait).sum() / wait.sum()
                assert steps.weighted / steps.seconds / 10 == pytest.approx(weighted, **CLOSE)
            product = (rows.systolic * rows.heart_rate).dropna()
            assert tally.product / 100 == pytest.approx(product.sum(), **CLOSE)


@pytest.mark.parametrize("block", range(BLOCKS))
def test_reported_values_against_exact_fractions(block: int) -> None:
    """Half up to one decimal of the exact value, by another road than the product's."""
    for one in made_in(block):
        for cell, tally in enumerate(tallies(one.cells)):
            rows = one.table[one.table.cell == cell]
            tenths = [round(value * 10) for value in rows.systolic]
            assert average(tally.systolic) == half_up(Fraction(sum(tenths), 10 * len(tenths)))
            means = [
                Fraction(sum(hour), len(hour))
                for _, group in rows.groupby("hour")
                if (hour := [round(value * 10) for value in group.systolic])
            ]
            assert hourly(tally.systolic_hourly) == half_up(sum(means, Fraction(0)) / len(means) / 10)
            assert sd(tally.systolic) == Decimal(repr(float(rows.systolic.std()))).quantize(
                Decimal("0.1"), rounding=ROUND_HALF_UP
            )


def half_up(value: Fraction) -> Decimal:
    return Decimal((value * 10 + Fraction(1, 2)).__floor__()) / 10


@pytest.mark.parametrize("block", range(BLOCKS))
def test_lines_against_scipy(block: int) -> None:
    for one in made_in(block):
        line = tallies(one.cells)[0].line
        rows = one.table[one.table.cell == 0]
        found = stats.linregress(rows.systolic, rows.diastolic)
        other = stats.linregress(rows.diastolic, rows.systolic)
        assert line.xy / line.xx == pytest.approx(found.slope, **CLOSE)
        assert line.xy / sqrt(line.xx * line.yy) == pytest.approx(found.rvalue, **CLOSE)
        angle = (np.arctan(found.slope) + np.arctan(1 / other.slope)) / 2
        assert aasi_symmetric(line) == pytest.approx(1 - np.tan(angle), **CLOSE)


@pytest.mark.parametrize("block", range(BLOCKS))
def test_cosinor_against_statsmodels(block: int) -> None:
    for one in made_in(block):
        rows = one.table[one.table.cell == 0]
        hours: NDArray[np.float64] = (rows.seconds / 3600).to_numpy()
        values: NDArray[np.float64] = rows.systolic.to_numpy()
        found = cosinor(hours, values)
        angle = hours * 2 * np.pi / 24
        fit = sm.OLS(values, sm.add_constant(np.column_stack((np.cos(angle), np.sin(angle))))).fit()
        mesor, cosine, sine = fit.params
        assert found is not None
        assert (found.mesor, found.amplitude) == pytest.approx((mesor, np.hypot(cosine, sine)), **CLOSE)
        assert found.peak == pytest.approx(np.arctan2(sine, cosine) * 12 / np.pi % 24, **CLOSE)
        assert (found.f, found.p) == pytest.approx((fit.fvalue, fit.f_pvalue), **CLOSE)


@pytest.mark.parametrize("block", range(BLOCKS))
def test_weighted_sd_against_numpy(block: int) -> None:
    for one in made_in(block):
        _, awake, asleep = tallies(one.cells)
        spreads = one.table.groupby("cell").systolic.std()
        expected = np.average([spreads[1], spreads[2]], weights=[16, 8])
        assert weighted_sd(awake.systolic, asleep.systolic, 16, 8) == pytest.approx(expected, **CLOSE)


def test_one_by_one_and_batched_are_the_same_to_the_last_bit() -> None:
    batch = [made(seed).cells for seed in range(COUNT)]
    single: list[Tally] = [tally for cells in batch for tally in tallies(cells)]
    assert list(tallies(joined(batch))) == single


def test_batches_join_every_column() -> None:
    first, second = made(1).cells, made(2).cells
    both = joined([first, second])
    for field in fields(Columns):
        pieces = [getattr(cells.columns, field.name) for cells in (first, second)]
        assert np.array_equal(getattr(both.columns, field.name), np.concatenate(pieces))
    assert both.starts.tolist() == [*first.starts, *(second.starts[1:] + first.starts[-1])]
