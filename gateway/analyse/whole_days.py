"""Statistics of a whole day for many recordings at once: one row per day, the same bits as the single road.

    sd = weighted_sds(awake, asleep, hours_awake, hours_asleep)
    falls = dips(awake_means, asleep_means)
    surges(days, asleep, waking)
    stiffness(days)
    first_hours(days, began)

`awake`, `asleep` and `days` are cells of equal number: cell i of each belongs to day i. What needs of a recording are
not known here (irregular pulse, filed periods, 20 awake and 7 asleep) is for the caller, as `present` says only that
the numbers allow the statistic.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gateway.analyse import kernels
from gateway.analyse.cohort import Stated
from gateway.analyse.columns import Cells, Flags, Ints
from gateway.mapping.dipping import DIPPING
from gateway.mapping.studies import NEEDS
from gateway.model import StatisticName

Floats = NDArray[np.float64]
HALF_HOUR, HOUR, TWO_HOURS = 1800, 3600, 7200
_MOST_PLACES = 4
_NEVER = np.iinfo(np.int64).max


@dataclass(frozen=True, slots=True)
class Unrounded:
    """Values that pass through floating point; `model.rounded` reports them. They mean something where `present`."""

    value: Floats
    present: Flags
    count: Ints


@dataclass(frozen=True, slots=True)
class Dips:
    """Per cent as whole numbers of `places` decimals, and the position of the class in `DIPPING`."""

    scaled: Ints
    places: Ints
    dip_class: Ints
    present: Flags


def signed_half_up(numerator: Ints, denominator: Ints) -> Ints:
    """Whole-number division rounded half away from zero (denominator above 0); 0 where the denominator is 0."""
    safe = np.where(denominator == 0, 1, denominator)
    found = np.sign(numerator) * ((2 * np.abs(numerator) + safe) // (2 * safe))
    return np.where(denominator == 0, 0, found).astype(np.int64)


def weighted_sds(
    awake: Cells, asleep: Cells, hours_awake: Floats, hours_asleep: Floats
) -> Mapping[StatisticName, Unrounded]:
    """Awake and asleep SD (mmHg) weighted by the real hours of each (Bilo 2007); both need two readings."""
    found: dict[StatisticName, Unrounded] = {}
    for name, quantity in (
        (StatisticName.SYSTOLIC_SD_WEIGHTED, "systolic"),
        (StatisticName.DIASTOLIC_SD_WEIGHTED, "diastolic"),
    ):
        by_day, by_night = (kernels.moments(getattr(part.columns, quantity), part.starts) for part in (awake, asleep))
        total = _sd(by_day) * hours_awake + _sd(by_night) * hours_asleep
        hours = hours_awake + hours_asleep
        present = (by_day.count > 1) & (by_night.count > 1)
        value = total / np.where(hours > 0, hours, 1.0)
        found[name] = Unrounded(value, np.asarray(present, dtype=np.bool_), by_day.count + by_night.count)
    return found


def _sd(moments: kernels.Moments) -> Floats:
    pairs = moments.count * (moments.count - 1)
    return np.asarray(np.sqrt(moments.spread / np.where(pairs > 0, pairs, 1)) / 10, dtype=np.float64)


def dips(awake: Stated, asleep: Stated) -> Dips:
    """100·(awake − asleep)/awake in per cent, of reported means in tenths of mmHg; with as many decimals as keep it
    on its side of a class boundary, and the class by the exact value. Sources: `analyse.dip` and `mapping.dipping`.
    """
    present = awake.present & asleep.present & (awake.tenths > 0)
    below = np.where(present, awake.tenths, 1)
    fall = np.where(present, 100 * (awake.tenths - asleep.tenths), 0)
    exact = _classes(fall, below)
    places = np.full_like(fall, _MOST_PLACES)
    scaled = signed_half_up(fall * 10**_MOST_PLACES, below)
    for fewer in range(_MOST_PLACES - 1, 0, -1):
        shorter = signed_half_up(fall * 10**fewer, below)
        fits = _classes(shorter, np.full_like(shorter, 10**fewer)) == exact
        places, scaled = np.where(fits, fewer, places), np.where(fits, shorter, scaled)
    return Dips(scaled, places, exact, np.asarray(present, dtype=np.bool_))


def _classes(numerator: Ints, denominator: Ints) -> Ints:
    """Position of the highest class whose lower limit the fraction reaches."""
    found = np.full_like(numerator, len(DIPPING) - 1)
    for position in reversed(range(len(DIPPING) - 1)):
        least = int(DIPPING[position].least or 0)
        found = np.where(numerator >= least * denominator, position, found)
    return found


def surges(days: Cells, asleep: Cells, waking: Ints, known: Flags) -> Mapping[StatisticName, Stated]:
    """Both morning surges and the morning mean, in tenths of mmHg (Kario 2003, as in `analyse.surge`).

    `asleep`: readings of the main sleep; `waking`: seconds since 1970, looked at where `known`.
    """
    after = _window(days, waking, known, 0, TWO_HOURS)
    before = _window(days, waking, known, -TWO_HOURS, 0)
    around = _trough(asleep)
    total, count = after
    enough = known & (count >= NEEDS.surge_readings)
    morning = Stated(signed_half_up(total, count), enough, count)
    return {
        StatisticName.SURGE_SLEEP_TROUGH: _rise(after, around, enough),
        StatisticName.SURGE_PRE_WAKING: _rise(after, before, enough),
        StatisticName.MORNING_MEAN: morning,
    }


Window = tuple[Ints, Ints]
"""Σ systolic in tenths and number of readings, shape (days,) each"""


def _window(days: Cells, waking: Ints, known: Flags, low: int, high: int) -> Window:
    each, may = np.repeat(waking, np.diff(days.starts)), np.repeat(known, np.diff(days.starts))
    seconds = days.columns.seconds
    return _inside(days, may & (seconds >= each + low) & (seconds < each + high))


def _inside(cells: Cells, mask: Flags) -> Window:
    chosen = mask.astype(np.int64)
    return kernels.sums(cells.columns.systolic * chosen, cells.starts), kernels.sums(chosen, cells.starts)


def _trough(asleep: Cells) -> Window:
    """Readings within half an hour of the lowest of each cell, the first of several equal ones."""
    size, seconds = np.diff(asleep.starts), asleep.columns.seconds
    lowest = asleep.columns.systolic == np.repeat(kernels.least(asleep.columns.systolic, asleep.starts), size)
    first = kernels.least(np.where(lowest, seconds, _NEVER), asleep.starts)
    return _inside(asleep, np.abs(seconds - np.repeat(first, size)) <= HALF_HOUR)


def _rise(after: Window, before: Window, enough: Flags) -> Stated:
    numerator = after[0] * before[1] - before[0] * after[1]
    present = enough & (before[1] >= NEEDS.surge_readings)
    return Stated(signed_half_up(numerator, after[1] * before[1]), present, after[1] + before[1])


def first_hours(days: Cells, began: Ints) -> Mapping[StatisticName, Stated]:
    """Means of the first hour after `began` (seconds since 1970), in tenths of mmHg."""
    wait = days.columns.seconds - np.repeat(began, np.diff(days.starts))
    inside = ((wait >= 0) & (wait < HOUR)).astype(np.int64)
    count = kernels.sums(inside, days.starts)
    return {
        name: Stated(signed_half_up(kernels.sums(values * inside, days.starts), count), count > 0, count)
        for name, values in (
            (StatisticName.FIRST_HOUR_SYSTOLIC_MEAN, days.columns.systolic),
            (StatisticName.FIRST_HOUR_DIASTOLIC_MEAN, days.columns.diastolic),
        )
    }


@dataclass(frozen=True, slots=True)
class Stiffness:
    """Of each day: AASI as whole hundredths, the symmetric form unrounded."""

    aasi: Ints
    symmetric: Floats
    present: Flags
    count: Ints


def stiffness(days: Cells) -> Stiffness:
    """Both indices, 1 less a slope and so without unit (Li 2006, Ben-Dov 2008); needs as in `analyse.stiffness`."""
    line = kernels.line(days.columns.systolic, days.columns.diastolic, days.starts)
    n = line.count
    spread = int((10 * NEEDS.stiffness_sd) ** 2) * n * (n - 1)
    xx, yy, xy = (part.astype(np.object_) for part in (line.xx, line.yy, line.xy))
    up, down = NEEDS.stiffness_r.as_integer_ratio()
    tight = np.asarray(down**2 * xy * xy >= up**2 * xx * yy, dtype=np.bool_)
    present = (n >= NEEDS.stiffness_readings) & (line.xx >= spread) & (line.xy > 0) & tight
    safe = [np.where(present, part, 1) for part in (line.xx, line.yy, line.xy)]
    aasi = signed_half_up(100 * (safe[0] - safe[2]), safe[0])
    return Stiffness(aasi, symmetric(*safe), np.asarray(present, dtype=np.bool_), n)


def symmetric(xx: Ints, yy: Ints, xy: Ints) -> Floats:
    """1 − slope of the bisector, [b1·b2 − 1 + √((1 + b1²)(1 + b2²))] / (b1 + b2), b1 = Sxy/Sxx, b2 = Syy/Sxy.

    Only operations that round correctly by IEEE 754, so that every machine and every batch gives the same bits.
    """
    on_x, on_y = xy / xx, yy / xy
    both = np.sqrt(1 + on_x * on_x) * np.sqrt(1 + on_y * on_y)
    return np.asarray(1 - (on_x * on_y - 1 + both) / (on_x + on_y), dtype=np.float64)
