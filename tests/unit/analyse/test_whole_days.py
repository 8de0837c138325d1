"""Weighted SD, dip, surge, stiffness and first hour of many recordings say exactly what single summaries say."""

from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from functools import cache

import numpy as np
import pytest

from gateway.analyse import summarise
from gateway.analyse.batch import Batch, gathered
from gateway.analyse.cohort import Stated, cohort
from gateway.analyse.dip import dip
from gateway.analyse.stiffness import aasi_symmetric, lacking
from gateway.analyse.tally import tallies
from gateway.analyse.variability import weighted_sd
from gateway.analyse.whole_days import dips, first_hours, signed_half_up, stiffness, surges, symmetric, weighted_sds
from gateway.mapping.dipping import DIPPING
from gateway.model import (
    Diary,
    Examined,
    Interval,
    Recording,
    Schedule,
    Statistic,
    StatisticName,
    Use,
    reported,
    rounded,
)
from tests.builders import LONDON, START, a_reading, a_recording, readings_over
from tests.unit.analyse.columns_of import one_cell
from tests.unit.analyse.examined import examined_of, rules_with
from tests.unit.analyse.test_cohort import recordings as lengths

NIGHT = Interval(datetime(2026, 3, 3, 23, tzinfo=LONDON), datetime(2026, 3, 4, 7, tzinfo=LONDON))
NAP = Interval(datetime(2026, 3, 3, 14, tzinfo=LONDON), datetime(2026, 3, 3, 15, 30, tzinfo=LONDON))


def wavy(seed: int) -> Recording:
    """Pressures that go together, more or less loosely, with minutes that differ; every fifth has a nap, too."""
    dice = np.random.default_rng(seed)
    loose, fall = dice.uniform(0, 9), dice.integers(-5, 30)

    def profile(at: datetime) -> tuple[float, float, float]:
        base = 140 - (fall if at.hour >= 23 or at.hour < 7 else 0) + dice.integers(-15, 16)
        return float(base), float(round(base / 2 + 15 + dice.normal() * loose)), float(dice.integers(50, 100))

    readings = readings_over(every=lambda _: int(dice.integers(9, 70)), profile=profile)
    return a_recording(readings, diary=Diary(asleep=(NAP, NIGHT) if seed % 5 == 0 else (NIGHT,)))


@cache
def together() -> list[tuple[Recording, Examined]]:
    many = [*lengths(), *(wavy(seed) for seed in range(60))]
    many.append(a_recording(diary=Diary()))  # nobody slept
    many.append(a_recording(schedule=Schedule(fitted_at=START - timedelta(minutes=40))))
    many.append(a_recording([*readings_over()[:4], a_reading(START, None, None)]))
    found = [(one, examined_of(one)) for one in many]
    apart = found[-4][1]
    judged = tuple(
        replace(one, use=Use.LISTED, rule="first-hour", why="apart") if n < 2 else one
        for n, one in enumerate(apart.judged)
    )
    found.append((found[-4][0], replace(apart, judged=judged)))
    return found


@cache
def many() -> Batch:
    return gathered(together())


@cache
def singles() -> list[dict[StatisticName, Statistic]]:
    rules = rules_with()
    return [
        {
            one.name: one
            for one in summarise(recording, examined, rules).statistics
            if one.period is None and one.day == 1
        }
        for recording, examined in together()
    ]


def agreeing(name: StatisticName, found: Stated, places: int = 1) -> int:
    """Every value and count is that of the single summary; how many values there were."""
    for place, single in enumerate(singles()):
        one = single.get(name)
        assert one is not None
        assert bool(found.present[place]) is (one.value is not None), (name, place)
        if one.value is not None:
            assert found.tenths[place] == one.value.scaleb(places), (name, place)
            assert found.count[place] == one.count, (name, place)
    return int(found.present.sum())


def test_surges_and_first_hour() -> None:
    batch = many()
    found = {
        **surges(batch.days, batch.sleep, batch.waking, batch.known),
        **first_hours(batch.early, batch.began),
    }
    assert {name: agreeing(name, stated) >= 30 for name, stated in found.items()} == dict.fromkeys(found, True)
    assert len(found) == 5
    assert not found[StatisticName.MORNING_MEAN].present.all()


def test_weighted_sds_to_the_last_bit() -> None:
    batch = many()
    by_day, by_night = tallies(batch.awake), tallies(batch.asleep)
    found = weighted_sds(batch.awake, batch.asleep, batch.hours_awake, batch.hours_asleep)
    for name, stated in found.items():
        quantity = name.value.partition("-")[0]
        for place, single in enumerate(singles()):
            one = single.get(name)
            value = one.value if one else None
            assert bool(stated.present[place]) is (value is not None)
            if one is not None and value is not None:
                alone = weighted_sd(
                    getattr(by_day[place], quantity),
                    getattr(by_night[place], quantity),
                    float(batch.hours_awake[place]),
                    float(batch.hours_asleep[place]),
                )
                assert stated.value[place] == alone, "equal floats, not close ones"
                assert rounded(float(stated.value[place])) == value
                assert stated.count[place] == one.count
        assert stated.present.sum() >= 60


def test_stiffness_to_the_last_bit() -> None:
    found = stiffness(many().days)
    stated = 0
    for place, (single, tally) in enumerate(zip(singles(), tallies(many().days), strict=True)):
        one, both = single[StatisticName.AASI], single[StatisticName.AASI_SYMMETRIC]
        assert bool(found.present[place]) is (lacking(tally.line) is None) is (one.value is not None)
        assert found.count[place] == one.count
        if one.value is not None:
            stated += 1
            assert found.aasi[place] == one.value.scaleb(2)
            assert found.symmetric[place] == aasi_symmetric(tally.line), "equal floats, not close ones"
            assert rounded(float(found.symmetric[place]), 2) == both.value
    assert 20 <= stated < len(singles()) - 10


def test_dips_of_the_batch() -> None:
    batch = many()
    awake, asleep = cohort(batch.awake), cohort(batch.asleep)
    for quantity in ("systolic", "diastolic", "heart-rate"):
        mean = StatisticName(f"{quantity}-mean")
        found = dips(awake[mean], asleep[mean])
        compared = 0
        for place, single in enumerate(singles()):
            one = single[StatisticName(f"{quantity}-dip")]
            if one.value is not None:  # the single road asks for 8 awake and 4 asleep readings besides
                compared += 1
                assert Decimal(int(found.scaled[place])).scaleb(-int(found.places[place])) == one.value
                assert found.present[place]
        assert compared >= 60


def stated_of(values: list[int]) -> Stated:
    one = np.array(values, dtype=np.int64)
    return Stated(one, one > 0, np.ones_like(one))


def test_every_dip_has_the_class_and_the_decimals_of_the_single_road() -> None:
    """All pairs of 120.0 to 130.0 awake with 95.0 to 131.9 asleep, and two near 10 %, one of four decimals."""
    pairs = [(a, b) for a in range(1200, 1301, 7) for b in range(950, 1320)] + [(1999, 1800), (29991, 26992)]
    found = dips(stated_of([a for a, _ in pairs]), stated_of([b for _, b in pairs]))
    assert (found.scaled[-1], found.places[-1]) == (99997, 4)
    for place, (a, b) in enumerate(pairs):
        alone = dip(Decimal(a).scaleb(-1), Decimal(b).scaleb(-1))
        assert Decimal(int(found.scaled[place])).scaleb(-int(found.places[place])) == alone.percent
        assert str(alone.percent)[::-1].find(".") == found.places[place]
        assert DIPPING[found.dip_class[place]] is alone.dip_class


def test_no_dip_of_what_is_not_there() -> None:
    found = dips(stated_of([0, 1200, 0]), stated_of([1000, 0, 0]))
    assert found.present.tolist() == [False, False, False]


@pytest.mark.parametrize(
    ("numerator", "denominator"), [(5, 10), (-5, 10), (15, 10), (-14, 10), (7, 2), (-7, 2), (0, 3)]
)
def test_signed_half_up_is_the_rule_of_reported_values(numerator: int, denominator: int) -> None:
    found = signed_half_up(np.array([numerator]), np.array([denominator]))
    assert found.tolist() == [int(reported(numerator, denominator, 0))]
    assert signed_half_up(np.array([numerator]), np.array([0])).tolist() == [0]


def test_symmetric_of_anscombe() -> None:
    """Anscombe's first set (Am Stat 1973;27:17) as a line; the bisector's slope was computed apart."""
    x = [10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5]
    y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68]
    xx, yy, xy = (
        np.array([sum((a - sum(u) / 11) * (b - sum(v) / 11) for a, b in zip(u, v, strict=True))])
        for u, v in ((x, x), (y, y), (x, y))
    )
    assert symmetric(xx, yy, xy)[0] == pytest.approx(0.38179364191806175, rel=1e-12)


def test_one_recording_is_a_batch_of_one() -> None:
    """Taken out of the batch and put in alone, each recording gives the same bits."""
    batch = many()
    lone = [gathered([pair]) for pair in together()]
    for place, one in enumerate(lone):
        sds = weighted_sds(one.awake, one.asleep, one.hours_awake, one.hours_asleep)
        for name, stated in weighted_sds(batch.awake, batch.asleep, batch.hours_awake, batch.hours_asleep).items():
            assert sds[name].value[0] == stated.value[place]
        assert stiffness(one.days).symmetric[0] == stiffness(batch.days).symmetric[place]


def test_a_recording_without_windows_has_no_place_in_a_batch() -> None:
    recording, examined = together()[0]
    with pytest.raises(ValueError, match="without windows"):
        gathered([(recording, replace(examined, windows=None))])


@pytest.mark.parametrize(("apart", "enough"), [(4.8, False), (4.9, True)])
def test_the_least_spread_of_stiffness(apart: float, enough: bool) -> None:
    """20 systolic values half above and half below the mean: SD = apart·√(20/19), 4.92 and 5.03 against 5 mmHg."""
    upper = [130 + apart * (1 if n % 2 else -1) for n in range(20)]
    one = one_cell([30 * n for n in range(20)], upper, [value - 50 for value in upper])
    assert stiffness(one).present.tolist() == [enough]
