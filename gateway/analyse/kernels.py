"""Sums over cells, all in whole numbers: exact, and the same bits for one recording and for many.

Every function takes arrays of shape (readings,) with `starts` of shape (cells + 1,) and returns arrays of shape
(cells,). Values are tenths (of mmHg or per minute); products are hundredths.
"""

from dataclasses import dataclass
from itertools import pairwise
from math import lcm

import numpy as np

from gateway.analyse.columns import Flags, Ints

_FEW_PER_HOUR = 20  # lcm(1..20) times any sum of pressures of a day still fits 64 bits


@dataclass(frozen=True, slots=True)
class Moments:
    """`spread` is n·Σx² − (Σx)², that is n·(n − 1) times the n−1 variance. Least and greatest are 0 in an empty
    cell; look at `count` first."""

    count: Ints
    total: Ints
    spread: Ints
    least: Ints
    greatest: Ints


@dataclass(frozen=True, slots=True)
class Steps:
    """Successive differences: how many, Σ|Δ|, Σ seconds, Σ seconds·|Δ|."""

    pairs: Ints
    total: Ints
    seconds: Ints
    weighted: Ints


@dataclass(frozen=True, slots=True)
class Line:
    """Sums of a straight line of y on x, each n times its centred sum: n·Σxx − ΣxΣx and so on."""

    count: Ints
    xx: Ints
    yy: Ints
    xy: Ints


@dataclass(frozen=True, slots=True)
class Ratio:
    """Exact fractions; `hours` is how many hours hold a reading. Object arrays of whole numbers of any size."""

    numerator: Ints
    denominator: Ints
    hours: Ints


def sums(values: Ints, starts: Ints) -> Ints:
    """Sum of each cell; 0 for an empty one."""
    running = np.concatenate(([0], np.cumsum(values, dtype=np.int64)))
    return running[starts[1:]] - running[starts[:-1]]


def only(mask: Flags, starts: Ints) -> Ints:
    """The starts that belong to `values[mask]`."""
    running = np.concatenate(([0], np.cumsum(mask, dtype=np.int64)))
    return running[starts]


def moments(values: Ints, starts: Ints) -> Moments:
    """Count, sum, spread and extremes of each cell."""
    count = np.diff(starts)
    total = sums(values, starts)
    return Moments(
        count=count,
        total=total,
        spread=count * sums(values * values, starts) - total * total,
        least=least(values, starts),
        greatest=-least(-values, starts),
    )


def least(values: Ints, starts: Ints) -> Ints:
    """Least value of each cell; 0 for an empty one."""
    filled = np.diff(starts) > 0
    found = np.zeros(len(filled), dtype=np.int64)
    if filled.any():
        found[filled] = np.minimum.reduceat(values[: starts[-1]], starts[:-1][filled])
    return found


def steps(values: Ints, seconds: Ints, stretch: Ints, starts: Ints) -> Steps:
    """Differences of successive readings within one stretch of one cell, whatever lies between them."""
    change = np.abs(np.diff(values, prepend=values[:1]))
    wait = np.diff(seconds, prepend=seconds[:1])
    follows = np.diff(stretch, prepend=stretch[:1]) == 0
    follows[starts[:-1][np.diff(starts) > 0]] = False
    change, wait = change * follows, wait * follows
    return Steps(
        pairs=sums(follows.astype(np.int64), starts),
        total=sums(change, starts),
        seconds=sums(wait, starts),
        weighted=sums(wait * change, starts),
    )


def line(x: Ints, y: Ints, starts: Ints) -> Line:
    """Centred sums for y on x of each cell."""
    count = np.diff(starts)
    sum_x, sum_y = sums(x, starts), sums(y, starts)
    return Line(
        count=count,
        xx=count * sums(x * x, starts) - sum_x * sum_x,
        yy=count * sums(y * y, starts) - sum_y * sum_y,
        xy=count * sums(x * y, starts) - sum_x * sum_y,
    )


def reached(values: Ints, limits: Ints, starts: Ints) -> Ints:
    """How many readings of each cell are at or above that cell's limit (tenths)."""
    each = np.repeat(limits, np.diff(starts))
    return sums((values >= each).astype(np.int64), starts)


def hours_read(hour: Ints, starts: Ints) -> tuple[Ints, Ints]:
    """The hours that hold a reading, one after the other: the starts of their readings (shape (hours + 1,)), and the
    starts of each cell among them (shape (cells + 1,))."""
    begins = np.diff(hour, prepend=hour[:1]) != 0
    begins[starts[:-1][np.diff(starts) > 0]] = True
    return np.append(np.flatnonzero(begins), len(hour)), only(begins, starts)


def hourly(values: Ints, hour: Ints, starts: Ints) -> Ratio:
    """Mean of the means of the hours that hold a reading (Octavio 2010, J Hypertens 28:459), as a fraction.

    The hours are real elapsed hours since the cell began, so a clock change neither doubles nor drops one. The
    denominator is 0 for an empty cell.
    """
    edges, of_cell = hours_read(hour, starts)
    in_hour, total = np.diff(edges), sums(values, edges)
    hours = np.diff(of_cell)
    shared = _multiples(in_hour, of_cell)
    exact = np.int64 if in_hour.max(initial=0) <= _FEW_PER_HOUR else np.object_
    parts = total.astype(exact) * (np.repeat(shared, hours).astype(exact) // in_hour.astype(exact))
    running = np.concatenate((np.zeros(1, dtype=exact), np.cumsum(parts)))
    return Ratio(
        numerator=running[of_cell[1:]] - running[of_cell[:-1]],
        denominator=shared * hours,
        hours=hours,
    )


def _multiples(counts: Ints, starts: Ints) -> Ints:
    """Least common multiple of each cell's counts, 1 for an empty cell; whole numbers of any size if need be."""
    filled = np.diff(starts) > 0
    if counts.max(initial=0) > _FEW_PER_HOUR:
        found = [lcm(*counts[low:high].tolist()) for low, high in pairwise(starts.tolist())]
        return np.array(found, dtype=np.object_)
    shared = np.ones(len(starts) - 1, dtype=np.int64)
    if filled.any():
        shared[filled] = np.lcm.reduceat(counts, starts[:-1][filled])
    return shared
