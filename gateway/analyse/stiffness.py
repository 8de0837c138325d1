"""Ambulatory arterial stiffness index (AASI) from the straight line of diastolic on systolic pressure.

AASI = 1 − slope (Li 2006, doi 10.1161/01.HYP.0000200695.34024.4c). The symmetric form takes the bisector of the
lines of diastolic on systolic and systolic on diastolic (Ben-Dov 2008, PubMed 18509343). With loose correlation or
little spread either is meaningless, so both then give a reason instead.
"""

from collections.abc import Iterator
from decimal import Decimal
from math import sqrt

from gateway.analyse.stating import Place, state
from gateway.analyse.tally import Line
from gateway.analyse.words import Because
from gateway.mapping.studies import NEEDS
from gateway.model import Statistic, StatisticName, reported, rounded


def stiffness(line: Line, day: int, irregular: bool) -> Iterator[Statistic]:
    """Both indices of one day's line, two decimals."""
    place = Place(None, day)
    unmet = Because.IRREGULAR if irregular else lacking(line)
    yield state(StatisticName.AASI, place, line.count, unmet or aasi(line))
    yield state(StatisticName.AASI_SYMMETRIC, place, line.count, unmet or rounded(aasi_symmetric(line), 2))


def lacking(line: Line) -> Because | None:
    """Which need of the index is not met, None when all are. Exact: r ≥ 0.5 means 4·Sxy² ≥ Sxx·Syy, Sxy > 0."""
    n = line.count
    if n < NEEDS.stiffness_readings:
        return Because.FEW_FOR_STIFFNESS
    if line.xx < (10 * NEEDS.stiffness_sd) ** 2 * n * (n - 1):
        return Because.LITTLE_SPREAD
    if line.xy <= 0 or line.xy**2 < NEEDS.stiffness_r**2 * line.xx * line.yy:
        return Because.LOOSE_LINE
    return None


def aasi(line: Line) -> Decimal:
    """1 − Sxy/Sxx, exact, half up to two decimals. Needs Sxx above 0."""
    return reported(line.xx - line.xy, line.xx, places=2)


def aasi_symmetric(line: Line) -> float:
    """1 − slope of the bisector, unrounded: [b1·b2 − 1 + √((1 + b1²)(1 + b2²))] / (b1 + b2), b1 = Sxy/Sxx,
    b2 = Syy/Sxy. Needs Sxx and Sxy above 0."""
    on_x, on_y = line.xy / line.xx, line.yy / line.xy
    both = sqrt(1 + on_x * on_x) * sqrt(1 + on_y * on_y)  # not hypot, whose last bit differs between libraries
    return 1 - (on_x * on_y - 1 + both) / (on_x + on_y)
