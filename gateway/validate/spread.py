"""Readings far from the mean of their period, where the chosen limits ask for it.

Known from J Hum Hypertens pp 195-198 (phc.ox.ac.uk/publications/1150694): kept out beyond 1.75 to 2 standard
deviations from the mean, awake and asleep apart (`mappings/limits/spread.toml`). One pass, n-1, exact:
|n·x − Σ|² · (n−1) > k² · n · (n·Σx² − Σ²).
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from gateway.mapping.limits import Spread
from gateway.model import Judged, Period, PeriodName, Use, Windows
from gateway.model.phrase import Phrase

_FEWEST = 3


def without_outliers(judged: Sequence[Judged], windows: Windows, spread: Spread | None) -> tuple[Judged, ...]:
    """The same verdicts, with outliers of each period excluded by the rule `spread`."""
    if spread is None:
        return tuple(judged)
    out = {
        position
        for period in windows.periods
        if period.name is not PeriodName.WHOLE
        for position in _outliers(judged, period, Fraction(spread.deviations))
    }
    why = Phrase(
        "more than {deviations} standard deviations from the mean of its period", deviations=spread.deviations
    )
    return tuple(
        replace(verdict, use=Use.EXCLUDED, rule="spread", why=why) if position in out else verdict
        for position, verdict in enumerate(judged)
    )


def _outliers(judged: Sequence[Judged], period: Period, factor: Fraction) -> Iterator[int]:
    inside = [
        position
        for position, verdict in enumerate(judged)
        if verdict.use is Use.VALID and period.counts(verdict.reading.at)
    ]
    for quantity in ("systolic", "diastolic"):
        values: list[int] = [getattr(judged[position].reading, quantity) for position in inside]
        yield from (position for position, far in zip(inside, _far(values, factor), strict=True) if far)


def _far(values: Sequence[int], factor: Fraction) -> list[bool]:
    count, total = len(values), sum(values)
    if count < _FEWEST:
        return [False] * count
    bound = factor**2 * count * (count * sum(value * value for value in values) - total**2)
    return [(count * value - total) ** 2 * (count - 1) > bound for value in values]
