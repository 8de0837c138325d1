"""Fall of the means from awake to asleep, computed from the reported values by whole-number arithmetic.

In floating point 1 − asleep/awake misses exactly 10 and 20 per cent (120/108, 150/120 …), so no float is used.
"""

from dataclasses import dataclass
from decimal import Decimal

from gateway.mapping.dipping import DIPPING, DipClass
from gateway.model import in_tenths, reported
from gateway.model.phrase import Phrase

_MOST_PLACES = 4


@dataclass(frozen=True, slots=True)
class Dip:
    """`percent` as printed, with as many decimals as keep it on its side of a class boundary; `dip_class` by the
    exact value."""

    percent: Decimal
    dip_class: DipClass


def dip(awake: Decimal, asleep: Decimal) -> Dip:
    """100·(awake − asleep)/awake of two reported means (at most one decimal, same unit, awake above 0)."""
    by_day, by_night = in_tenths(awake), in_tenths(asleep)
    fall = 100 * (by_day - by_night)
    exact = _class_of(fall, by_day)
    for places in range(1, _MOST_PLACES):
        percent = reported(fall, by_day, places)
        if _class_of(int(percent.scaleb(places)), 10**places) is exact:
            return Dip(percent, exact)
    return Dip(reported(fall, by_day, _MOST_PLACES), exact)


def _class_of(numerator: int, denominator: int) -> DipClass:
    """Highest class whose lower limit the fraction reaches (denominator above 0)."""
    return next(
        dip_class for dip_class in DIPPING if dip_class.least is None or numerator >= dip_class.least * denominator
    )


def range_of(dip_class: DipClass) -> Phrase:
    """The class in numbers: "10 % or more and below 20 %"."""
    position = DIPPING.index(dip_class)
    upper = DIPPING[position - 1].least if position else None
    if dip_class.least is None:
        return Phrase("below {upper} %", upper=upper)
    if upper is None:
        return Phrase("{least} % or more", least=dip_class.least)
    return Phrase("{least} % or more and below {upper} %", least=dip_class.least, upper=upper)
