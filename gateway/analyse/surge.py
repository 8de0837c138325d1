"""Morning surge and the hours around waking, only where the time of waking is known.

Sleep-trough surge: systolic mean of the two hours after waking less the mean around the lowest reading of sleep
(Kario 2003, doi 10.1161/01.CIR.0000056521.67546.AA). Pre-waking surge: less the mean of the two hours before waking
(Sheppard, University of Birmingham, review). Morning mean: the two hours after rising (PMC9532929). "Around the
lowest" is every sleep reading within half an hour of it, which at half-hourly readings is the one before and the
one after.
"""

from collections.abc import Iterator
from decimal import Decimal

import numpy as np

from gateway.analyse.columns import Columns, Flags, Ints, Seconds
from gateway.analyse.stating import Place, state
from gateway.analyse.words import Because
from gateway.mapping.studies import NEEDS
from gateway.model import Statistic, StatisticName, reported

_HALF_HOUR, _HOUR, _TWO_HOURS = 1800, 3600, 7200


def surges(table: Columns, asleep: Columns | None, waking: Seconds | None, day: int) -> Iterator[Statistic]:
    """Both surges and the morning mean of one day; `asleep` are the readings of that day's asleep period."""
    place = Place(None, day)
    after = _window(table, waking, 0, _TWO_HOURS)
    before = _window(table, waking, -_TWO_HOURS, 0)
    around = _trough(asleep) if asleep is not None else np.empty(0, dtype=np.int64)
    unknown = Because.NO_WAKING if waking is None else None
    late = None if _enough(after) else Because.FEW_AFTER_WAKING
    low = None if _enough(around) else Because.FEW_AT_TROUGH
    early = None if _enough(before) else Because.FEW_BEFORE_WAKING
    count = len(after) + len(around)
    yield state(StatisticName.SURGE_SLEEP_TROUGH, place, count, unknown or late or low or _rise(after, around))
    count = len(after) + len(before)
    yield state(StatisticName.SURGE_PRE_WAKING, place, count, unknown or late or early or _rise(after, before))
    yield state(StatisticName.MORNING_MEAN, place, len(after), unknown or late or _mean(after))


def first_hour(table: Columns, began: Seconds) -> Iterator[Statistic]:
    """Means of the valid readings of the first hour after fitting, apart from every other mean."""
    inside = (table.seconds >= began) & (table.seconds < began + _HOUR)
    for name, values in (
        (StatisticName.FIRST_HOUR_SYSTOLIC_MEAN, table.systolic[inside]),
        (StatisticName.FIRST_HOUR_DIASTOLIC_MEAN, table.diastolic[inside]),
    ):
        yield state(name, Place(None, 1), len(values), _mean(values) if len(values) else Because.NO_FIRST_HOUR)


def _enough(values: Ints) -> bool:
    return len(values) >= NEEDS.surge_readings


def _window(table: Columns, waking: Seconds | None, low: int, high: int) -> Ints:
    if waking is None:
        return np.empty(0, dtype=np.int64)
    inside: Flags = (table.seconds >= waking + low) & (table.seconds < waking + high)
    return table.systolic[inside]


def _trough(asleep: Columns) -> Ints:
    if not len(asleep.seconds):
        return asleep.systolic
    lowest = asleep.seconds[int(np.argmin(asleep.systolic))]  # the first of several equal ones
    near: Flags = np.abs(asleep.seconds - lowest) <= _HALF_HOUR
    return asleep.systolic[near]


def _mean(values: Ints) -> Decimal:
    return reported(int(values.sum()), 10 * len(values))


def _rise(after: Ints, before: Ints) -> Decimal:
    """Difference of two means as one exact fraction, so that it is rounded once."""
    numerator = int(after.sum()) * len(before) - int(before.sum()) * len(after)
    return reported(numerator, 10 * len(after) * len(before))
