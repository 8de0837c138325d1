"""Exact numbers: measured values as whole tenths, reported values as decimals."""

from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from math import isqrt
from typing import NewType

Tenths = NewType("Tenths", int)
"""A measured value in whole tenths of its unit: mmHg for pressures, beats per minute for heart rates."""


class Unit(StrEnum):
    """UCUM code of a reported value (https://ucum.org)."""

    MMHG = "mm[Hg]"
    PER_MINUTE = "/min"
    PERCENT = "%"
    HOURS = "h"
    ONE = "1"
    MMHG_PER_MINUTE = "mm[Hg]/min"


def reported(numerator: int, denominator: int, places: int = 1) -> Decimal:
    """`numerator / denominator` rounded half up (away from zero) to `places` decimals, without any float.

    Raises ZeroDivisionError when `denominator` is 0; callers decide beforehand what a missing value means.
    """
    scale = 10**places
    sign = -1 if (numerator < 0) != (denominator < 0) else 1
    quotient, rest = divmod(abs(numerator) * scale, abs(denominator))
    if 2 * rest >= abs(denominator):
        quotient += 1
    return Decimal(sign * quotient).scaleb(-places)


def reported_root(numerator: int, denominator: int, places: int = 1) -> Decimal:
    """Square root of `numerator / denominator`, rounded half up to `places` decimals, without any float.

    Rests on floor(2·√x) = isqrt(floor(4·x)). Raises ZeroDivisionError for a denominator of 0 and ValueError for a
    negative ratio.
    """
    doubled = isqrt(4 * numerator * 100**places // denominator)
    return Decimal((doubled + 1) // 2).scaleb(-places)


def rounded(value: float, places: int = 1) -> Decimal:
    """A computed (not exact) statistic, rounded half up to `places` decimals for the report."""
    return Decimal(repr(value)).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


def in_tenths(value: Decimal) -> int:
    """A reported value of at most one decimal as whole tenths.

    Raises ValueError when the value has more decimals than that.
    """
    scaled = value.scaleb(1)
    if scaled != scaled.to_integral_value():
        raise ValueError("value has more than one decimal")
    return int(scaled)
