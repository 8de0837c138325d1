"""What the kernels found in each cell, as plain whole numbers that later steps turn into reported values."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields
from typing import Any, TypeVar

from gateway.analyse import kernels
from gateway.analyse.columns import Cells, Flags, Ints

Part = TypeVar("Part")


@dataclass(frozen=True, slots=True)
class Moments:
    """One quantity in one cell; see `kernels.Moments` for `spread`."""

    count: int
    total: int
    spread: int
    least: int
    greatest: int


@dataclass(frozen=True, slots=True)
class Steps:
    """Successive differences of one quantity in one cell."""

    pairs: int
    total: int
    seconds: int
    weighted: int


@dataclass(frozen=True, slots=True)
class Line:
    """Centred sums of diastolic (y) on systolic (x) in one cell, each times the count."""

    count: int
    xx: int
    yy: int
    xy: int


@dataclass(frozen=True, slots=True)
class Ratio:
    """Mean of hourly means in tenths as an exact fraction over `hours` hours."""

    numerator: int
    denominator: int
    hours: int


@dataclass(frozen=True, slots=True)
class Tally:
    """One period of one day. `product` is Σ systolic·heart rate in hundredths over `heart_rate.count` readings."""

    systolic: Moments
    diastolic: Moments
    heart_rate: Moments
    mean: Moments
    product: int
    systolic_steps: Steps
    diastolic_steps: Steps
    systolic_hourly: Ratio
    diastolic_hourly: Ratio
    heart_rate_hourly: Ratio
    line: Line


def tallies(cells: Cells) -> tuple[Tally, ...]:
    """One tally per cell, in the order of the cells."""
    table, starts, stretch, hour = cells.columns, cells.starts, cells.stretch, cells.hour
    rate, rate_starts = _where(table.has_heart_rate, table.heart_rate, starts)
    mean, mean_starts = _where(table.has_mean, table.mean, starts)
    with_rate = table.has_heart_rate
    both = table.systolic[with_rate] * rate
    steps = (
        kernels.steps(table.systolic, table.seconds, stretch, starts),
        kernels.steps(table.diastolic, table.seconds, stretch, starts),
    )
    ratios = (
        kernels.hourly(table.systolic, hour, starts),
        kernels.hourly(table.diastolic, hour, starts),
        kernels.hourly(rate, hour[with_rate], rate_starts),
    )
    return tuple(
        Tally(*row)
        for row in zip(
            _each(Moments, kernels.moments(table.systolic, starts)),
            _each(Moments, kernels.moments(table.diastolic, starts)),
            _each(Moments, kernels.moments(rate, rate_starts)),
            _each(Moments, kernels.moments(mean, mean_starts)),
            kernels.sums(both, rate_starts).tolist(),
            *(_each(Steps, step) for step in steps),
            *(_each(Ratio, ratio) for ratio in ratios),
            _each(Line, kernels.line(table.systolic, table.diastolic, starts)),
            strict=True,
        )
    )


def _where(mask: Flags, values: Ints, starts: Ints) -> tuple[Ints, Ints]:
    return values[mask], kernels.only(mask, starts)


def _each(part: Callable[..., Part], found: Any) -> Iterator[Part]:
    """A dataclass of arrays as one dataclass of whole numbers per cell."""
    names = [field.name for field in fields(found)]
    return (part(*row) for row in zip(*(getattr(found, name).tolist() for name in names), strict=True))
