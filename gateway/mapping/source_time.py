"""How dates and clock times are written in an export: a pattern of our own few signs, read strictly.

    YYYY YY   year (YY means 20YY)      MM M   month      DD D   day
    MMM(en)   name of the month, whole or shortened, in the language that stands there
    hh h      hour                      mm     minute     ss     second
    ap        am, pm, a.m. or p.m.      zz     offset: Z, +01:00, +0100 or +01

A doubled sign takes exactly two digits, a single one takes one or two. Everything else stands for itself; letters
other than `T` are refused, so that a misspelt sign is noticed. The word `iso` alone means ISO 8601.
"""

import re
from functools import lru_cache
from typing import Annotated

from pydantic import AfterValidator

from gateway.mapping.months import MONTHS

ISO = "iso"

_OFFSET = r"(?P<zone>[Zz]|[+-]\d{2}(?::?\d{2})?)"
_DATE = r"(?P<year>\d{4})(?P<dash>-?)(?P<month>\d{2})(?P=dash)(?P<day>\d{2})"
_CLOCK = r"(?P<hour>\d{2})(?P<colon>:?)(?P<minute>\d{2})(?:(?P=colon)(?P<second>\d{2})(?:[.,]\d{1,9})?)?"
_ISO_DATE = re.compile(_DATE, re.ASCII)
_ISO_CLOCK = re.compile(_CLOCK, re.ASCII)
_ISO_MOMENT = re.compile(rf"{_DATE}(?:[Tt]| +){_CLOCK} ?{_OFFSET}?", re.ASCII)

_SIGNS = {
    "YYYY": r"(?P<year>\d{4})",
    "YY": r"(?P<year>\d{2})",
    "MM": r"(?P<month>\d{2})",
    "M": r"(?P<month>\d{1,2})",
    "DD": r"(?P<day>\d{2})",
    "D": r"(?P<day>\d{1,2})",
    "hh": r"(?P<hour>\d{2})",
    "h": r"(?P<hour>\d{1,2})",
    "mm": r"(?P<minute>\d{2})",
    "ss": r"(?P<second>\d{2})",
    "ap": r"(?P<half>[AaPp]\.?[Mm]\.?)",
    "zz": _OFFSET,
}
_LISTED = ", ".join([*_SIGNS, "MMM(en)"])
_SIGNS |= {f"MMM({language})": rf"(?P<month_{language}>[A-Za-z\u00c0-\u017f]{{3,12}}\.?)" for language in MONTHS}
_PART = re.compile("|".join(re.escape(sign) for sign in sorted(_SIGNS, key=len, reverse=True)) + "|.", re.DOTALL)


@lru_cache(maxsize=256)
def expression(pattern: str) -> re.Pattern[str]:
    """The regular expression of a pattern, to be matched against the whole cell. Raises ValueError."""
    parts = _PART.findall(pattern)
    if "MMM" in re.sub(r"MMM\([a-z]{2}\)", "", pattern):
        raise ValueError(f"say the language of the month: MMM(en); known are {', '.join(MONTHS)}")
    for part in parts:
        if part not in _SIGNS and part.isalpha() and part != "T":
            raise ValueError(f"'{part}' is no sign of a time pattern; the signs are {_LISTED}")
    names = [re.sub(r"\W.*|_.*", "", _SIGNS[part][4:]) for part in parts if part in _SIGNS]
    if len(set(names)) != len(names):
        raise ValueError("a sign stands twice")
    return re.compile("".join(_SIGNS.get(part) or re.escape(part) for part in parts), re.ASCII)


def _needs(pattern: str, needed: tuple[str, ...], refused: tuple[str, ...]) -> str:
    if pattern == ISO:
        return pattern
    have = {name.partition("_")[0] for name in expression(pattern).groupindex}
    if missing := [name for name in needed if name not in have]:
        raise ValueError(f"the pattern has no {' and no '.join(missing)}")
    if extra := [name for name in refused if name in have]:
        raise ValueError(f"the pattern has a sign for the {extra[0]}, which does not belong here")
    return pattern


def _date(pattern: str) -> str:
    return _needs(pattern, ("year", "month", "day"), ("hour", "minute", "second", "half", "zone"))


def _clock(pattern: str) -> str:
    return _needs(pattern, ("hour", "minute"), ("year", "month", "day", "zone"))


def _moment(pattern: str) -> str:
    return _needs(pattern, ("year", "month", "day", "hour", "minute"), ())


DatePattern = Annotated[str, AfterValidator(_date)]
ClockPattern = Annotated[str, AfterValidator(_clock)]
MomentPattern = Annotated[str, AfterValidator(_moment)]


def date_expression(pattern: str) -> re.Pattern[str]:
    """Expression for a cell that holds a date."""
    return _ISO_DATE if pattern == ISO else expression(pattern)


def clock_expression(pattern: str) -> re.Pattern[str]:
    """Expression for a cell that holds a clock time."""
    return _ISO_CLOCK if pattern == ISO else expression(pattern)


def moment_expression(pattern: str) -> re.Pattern[str]:
    """Expression for a cell that holds date and clock time."""
    return _ISO_MOMENT if pattern == ISO else expression(pattern)
