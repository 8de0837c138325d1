"""Recordings per second one by one, batched, and by a pandas group-by doing the same. Ratios matter, not figures.

`pytest tests/benchmarks/test_analyse_speed.py -s` prints the rates. `BENCHMARKED` sets how many recordings.
"""

import os
from time import perf_counter
from typing import Any

import numpy as np
import pandas as pd
import pytest

from gateway.analyse import summarise
from gateway.analyse.batch import Batch, gathered
from gateway.analyse.cohort import cohort
from gateway.analyse.columns import Cells, Columns, cells, columns, joined
from gateway.analyse.rhythm import rhythms
from gateway.analyse.whole_days import dips, first_hours, stiffness, surges, weighted_sds
from gateway.model import StatisticName
from tests.builders import a_recording, readings_over
from tests.unit.analyse.examined import examined_of, rules_with

COUNT = int(os.environ.get("BENCHMARKED", "500"))
RECORDING = a_recording(readings_over(every=lambda _: 20))
EXAMINED = examined_of(RECORDING)
RULES = rules_with()


def one_table() -> Cells:
    assert EXAMINED.windows is not None
    return cells(columns(EXAMINED.judged), EXAMINED.windows.periods)


def by_pandas(frame: pd.DataFrame) -> pd.DataFrame:
    """Mean, extremes and SD of three quantities, CV, hourly means, both ARV, pulse and mean pressure, double
    product: what `cohort` states."""
    grouped = frame.groupby("cell")
    found = grouped[["systolic", "diastolic", "heart_rate"]].agg(["mean", "max", "min", "std"])
    found.columns = pd.Index(["-".join(names) for names in found.columns])
    hours = frame.groupby(["cell", "hour"])[["systolic", "diastolic", "heart_rate"]].mean()
    found[["h1", "h2", "h3"]] = hours.groupby("cell").mean()
    steps = frame.groupby(["cell", "stretch"])[["systolic", "diastolic", "seconds"]].diff().abs()
    steps["cell"] = frame["cell"]
    found[["a1", "a2"]] = steps.groupby("cell")[["systolic", "diastolic"]].mean()
    for name in ("systolic", "diastolic"):
        weighted = (steps[name] * steps["seconds"]).groupby(frame["cell"]).sum()
        found[f"{name}-weighted"] = weighted / steps.groupby("cell")["seconds"].sum()
    for name in ("systolic", "diastolic"):
        found[f"{name}-cv"] = 100 * found[f"{name}-std"] / found[f"{name}-mean"]
    found["measured"] = grouped["mean"].mean()
    found["derived"] = (found["systolic-mean"] + 2 * found["diastolic-mean"]) / 3
    found["product"] = (frame["systolic"] * frame["heart_rate"]).groupby(frame["cell"]).mean()
    found["pulse"] = (frame["systolic"] - frame["diastolic"]).groupby(frame["cell"]).mean()
    return found


def frame_of(table: Cells) -> pd.DataFrame:
    one: Columns = table.columns
    return pd.DataFrame(
        {
            "cell": np.repeat(np.arange(len(table.starts) - 1), np.diff(table.starts)),
            "stretch": table.stretch,
            "hour": table.hour,
            "seconds": one.seconds,
            "systolic": one.systolic / 10,
            "diastolic": one.diastolic / 10,
            "heart_rate": np.where(one.has_heart_rate, one.heart_rate / 10, np.nan),
            "mean": np.where(one.has_mean, one.mean / 10, np.nan),
        }
    )


@pytest.mark.benchmark(group="analyse")
def test_whole_summaries_one_by_one(benchmark: Any) -> None:
    found = benchmark(summarise, RECORDING, EXAMINED, RULES)
    assert found.statistics


@pytest.mark.benchmark(group="analyse")
def test_arrays_one_by_one(benchmark: Any) -> None:
    found = benchmark(cohort, one_table())
    assert StatisticName.SYSTOLIC_MEAN in found


@pytest.mark.benchmark(group="analyse")
def test_arrays_batched(benchmark: Any) -> None:
    batch = joined([one_table()] * COUNT)
    found = benchmark(cohort, batch)
    assert len(found[StatisticName.SYSTOLIC_MEAN].tenths) == 3 * COUNT


@pytest.mark.benchmark(group="analyse")
def test_pandas_batched(benchmark: Any) -> None:
    frame = frame_of(joined([one_table()] * COUNT))
    assert len(benchmark(by_pandas, frame)) == 3 * COUNT


def curves_of(table: Cells) -> Any:
    """Curves of every cell; the clock at the start does not matter to the speed."""
    return rhythms(table, table.columns.seconds[table.starts[:-1]], np.zeros(len(table.starts) - 1))


def whole_days_of(batch: Batch) -> Any:
    """Dip, weighted SD, surge, stiffness and first hour of every day."""
    awake, asleep = cohort(batch.awake), cohort(batch.asleep)
    return (
        [dips(awake[name], asleep[name]) for name in (StatisticName.SYSTOLIC_MEAN, StatisticName.DIASTOLIC_MEAN)],
        weighted_sds(batch.awake, batch.asleep, batch.hours_awake, batch.hours_asleep),
        surges(batch.days, batch.sleep, batch.waking, batch.known),
        stiffness(batch.days),
        first_hours(batch.early, batch.began),
    )


@pytest.mark.benchmark(group="analyse")
def test_whole_days_batched(benchmark: Any) -> None:
    _, sds, *_ = benchmark(whole_days_of, gathered([(RECORDING, EXAMINED)] * COUNT))
    assert len(sds[StatisticName.SYSTOLIC_SD_WEIGHTED].value) == COUNT


def rate(work: Any, *arguments: Any, recordings: int = 1, least: float = 0.3) -> float:
    """Recordings per second, best of what fits in `least` seconds (best, because other work shares the machine)."""
    best, spent = float("inf"), 0.0
    while spent < least:
        start = perf_counter()
        work(*arguments)
        took = perf_counter() - start
        best, spent = min(best, took), spent + took
    return recordings / best


def test_batched_is_the_fast_road_and_all_roads_agree() -> None:
    table = one_table()
    batch = joined([table] * COUNT)
    frame, lone = frame_of(batch), frame_of(table)
    alone, many = (gathered([(RECORDING, EXAMINED)] * size) for size in (1, COUNT))
    rates = {
        "whole summaries one by one": rate(summarise, RECORDING, EXAMINED, RULES),
        "arrays one by one": rate(cohort, table),
        "arrays batched": rate(cohort, batch, recordings=COUNT),
        "curves one by one": rate(curves_of, table),
        "curves batched": rate(curves_of, batch, recordings=COUNT),
        "whole days one by one": rate(whole_days_of, alone),
        "whole days batched": rate(whole_days_of, many, recordings=COUNT),
        "pandas one by one": rate(by_pandas, lone),
        "pandas batched": rate(by_pandas, frame, recordings=COUNT),
    }
    for name, found in rates.items():
        print(f"{name}: {found:,.0f} recordings a second, {found / rates['pandas one by one']:.1f} times pandas")
    mine, theirs = cohort(batch)[StatisticName.SYSTOLIC_MEAN], by_pandas(frame)["systolic-mean"]
    assert np.abs(mine.tenths / 10 - theirs.to_numpy()).max() <= 0.05 + 1e-9
