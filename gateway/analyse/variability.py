"""Spread and variability. Sources of the formulas: Mena 2005 (ARV), Bilo 2007 (weighted SD, doi
10.1097/HJH.0b013e32829c6a60). SD has n − 1 in the denominator, which the papers leave open.

SD, CV and both ARV are rounded from exact whole-number fractions; the weighted SD adds two irrational numbers and
is the only one that passes through floating point.
"""

from collections.abc import Iterator
from decimal import Decimal
from math import sqrt

from gateway.analyse.stating import Place, state
from gateway.analyse.tally import Moments, Steps, Tally
from gateway.analyse.words import Because
from gateway.model import Statistic, StatisticName, reported, reported_root, rounded


def variability(tally: Tally, place: Place, irregular: bool) -> Iterator[Statistic]:
    """SD, CV and average real variability of one period; none of them when the pulse was irregular."""
    parts = {"systolic": tally.systolic, "diastolic": tally.diastolic, "heart-rate": tally.heart_rate}
    for quantity, moments in parts.items():
        yield _state(f"{quantity}-sd", place, moments.count, sd(moments), irregular)
    for quantity, moments in (("systolic", tally.systolic), ("diastolic", tally.diastolic)):
        yield _state(f"{quantity}-cv", place, moments.count, cv(moments), irregular)
    for quantity, steps in (("systolic", tally.systolic_steps), ("diastolic", tally.diastolic_steps)):
        count = tally.systolic.count
        yield _state(f"{quantity}-arv", place, count, arv(steps), irregular)
        yield _state(f"{quantity}-arv-weighted", place, count, arv_weighted(steps), irregular)
    yield _state("double-product-mean", place, tally.heart_rate.count, double_product(tally), irregular)


def _state(name: str, place: Place, count: int, found: Decimal | Because, irregular: bool) -> Statistic:
    return state(StatisticName(name), place, count, Because.IRREGULAR if irregular else found)


def sd(moments: Moments) -> Decimal | Because:
    """n−1 standard deviation in the unit of the quantity, one decimal."""
    n = moments.count
    if n < 2:
        return Because.ONE_READING
    return reported_root(moments.spread, 100 * n * (n - 1))


def cv(moments: Moments) -> Decimal | Because:
    """100·SD/mean in per cent, one decimal, from the unrounded SD and mean."""
    n = moments.count
    if n < 2:
        return Because.ONE_READING
    return reported_root(10_000 * moments.spread * n, (n - 1) * moments.total**2)


def arv(steps: Steps) -> Decimal | Because:
    """Simple average real variability: Σ|Δ| over the number of successive pairs, mmHg.

    Pairs bridge gaps and excluded readings, but never two stretches of a period.
    """
    return reported(steps.total, 10 * steps.pairs) if steps.pairs else Because.NO_PAIR


def arv_weighted(steps: Steps) -> Decimal | Because:
    """Average real variability weighted by the real time between the readings: Σ w·|Δ| / Σ w, mmHg."""
    if not steps.pairs:
        return Because.NO_PAIR
    return reported(steps.weighted, 10 * steps.seconds) if steps.seconds else Because.NO_TIME


def double_product(tally: Tally) -> Decimal | Because:
    """Mean of systolic pressure times heart rate over the readings that have both, whole mmHg per minute."""
    count = tally.heart_rate.count
    return reported(tally.product, 100 * count, places=0) if count else Because.NO_HEART_RATE


def weighted_sd(awake: Moments, asleep: Moments, hours_awake: float, hours_asleep: float) -> float | Because:
    """Awake and asleep SD weighted by the real hours of each, mmHg, unrounded."""
    if awake.count < 2 or asleep.count < 2:
        return Because.NO_AWAKE_OR_ASLEEP
    total = _sd(awake) * hours_awake + _sd(asleep) * hours_asleep
    return total / (hours_awake + hours_asleep)


def _sd(moments: Moments) -> float:
    n = moments.count
    return sqrt(moments.spread / (n * (n - 1))) / 10


def weighted(
    awake: Tally, asleep: Tally, hours: tuple[float, float], day: int, irregular: bool
) -> Iterator[Statistic]:
    """Weighted SD of systolic and diastolic pressure for a day that has both periods of so many real `hours`."""
    pairs = (("systolic", awake.systolic, asleep.systolic), ("diastolic", awake.diastolic, asleep.diastolic))
    for quantity, by_day, by_night in pairs:
        found = weighted_sd(by_day, by_night, *hours)
        value = found if isinstance(found, Because) else rounded(found)
        count = by_day.count + by_night.count
        yield _state(f"{quantity}-sd-weighted", Place(None, day), count, value, irregular)
