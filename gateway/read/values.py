"""The closed list of conversions: one cell -> text, number, date, clock time, code. Nothing is guessed."""

import re
from dataclasses import dataclass
from datetime import date, time
from decimal import ROUND_HALF_UP, Decimal
from fnmatch import translate
from functools import lru_cache
from typing import Literal, TypeVar

from gateway.mapping.months import month
from gateway.mapping.source_place import Clocked, Coded, Dated
from gateway.mapping.source_time import ISO, clock_expression, date_expression
from gateway.model import HoldReason, Tenths
from gateway.read.extract import Located, folded, key, seen
from gateway.read.held import Held

Meaning = TypeVar("Meaning")

MOST_TEXT = 2000
MMHG_IN_PASCAL = Decimal("133.322387415")
"""1 mmHg (conventional millimetre of mercury) in pascal: NIST SP 811, appendix B.8 (rounded there to 133.3224)."""

_NUMBER = {
    ".": re.compile(r"(-?)(\d{1,6})(?:\.(\d{1,6}))?", re.ASCII),
    ",": re.compile(r"(-?)(\d{1,6})(?:,(\d{1,6}))?", re.ASCII),
}
_PARTIAL_DATE = re.compile(r"\d{4}(-\d{2})?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Mark:
    """A number's place holds a declared mark for "no value"."""

    raw: str


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A number's place holds something that is neither a number nor a declared mark."""

    raw: str


def unreadable(part: str, where: Located) -> Held:
    """The hold for a value that does not fit its declared type; names the key of the map and the row only."""
    place = f"row {where.row}" if where.row else "the file name or a constant of the map"
    return Held(HoldReason.VALUE_UNREADABLE, f"{part}, {place}")


def text(part: str, where: Located) -> str | None:
    """The text, None when blank. Raises Held for one of absurd length."""
    if len(where.text) > MOST_TEXT:
        raise unreadable(part, where)
    return str(where.text) or None


def decimal(raw: str, mark: Literal[".", ","]) -> Decimal | None:
    """A plain number with the declared decimal mark; None for anything else. Grouping marks are refused."""
    found = _NUMBER[mark].fullmatch(seen(raw))
    return Decimal(f"{found[1]}{found[2]}.{found[3] or 0}") if found else None


def number(part: str, where: Located, mark: Literal[".", ","]) -> Decimal | None:
    """A fact that is a positive number; None when blank. Raises Held for anything else."""
    if not seen(where.text):
        return None
    value = decimal(where.text, mark)
    if value is None or value <= 0:
        raise unreadable(part, where)
    return value


def whole(part: str, where: Located, mark: Literal[".", ","]) -> int | None:
    """A fact that is a positive whole number; None when blank. Raises Held for anything else."""
    value = number(part, where, mark)
    if value is not None and value != value.to_integral_value():
        raise unreadable(part, where)
    return None if value is None else int(value)


def measured(
    raw: str, mark: Literal[".", ","], marks: tuple[str, ...], unit: Literal["mmHg", "kPa"] | None
) -> Tenths | Mark | Unreadable | None:
    """A measured value in tenths: of mmHg, or (unit None) as it stands. None when blank.

    kPa become whole mmHg, half up; other values are rounded half up to one decimal.
    """
    shown = seen(raw)
    if not shown:
        return None
    value = decimal(shown, mark)
    if is_mark(shown, value, marks):
        return Mark(raw)
    if value is None or value < 0 or value >= 10_000:
        return Unreadable(raw)
    if unit == "kPa":
        return Tenths(10 * int((value * 1000 / MMHG_IN_PASCAL).quantize(Decimal(1), rounding=ROUND_HALF_UP)))
    return Tenths(int(value.scaleb(1).quantize(Decimal(1), rounding=ROUND_HALF_UP)))


def is_mark(shown: str, value: Decimal | None, marks: tuple[str, ...]) -> bool:
    """Is it a declared mark? A mark that is a number also stands for its other spellings: 0 for 0,0 and 000."""
    words, numbers = _marks(marks)
    return words.fullmatch(shown) is not None or (value is not None and value in numbers)


@lru_cache(maxsize=256)
def _marks(marks: tuple[str, ...]) -> tuple[re.Pattern[str], frozenset[Decimal]]:
    numbers = (decimal(each, ".") for each in marks)
    words = re.compile("|".join(translate(each) for each in marks) or r"(?!)", re.IGNORECASE)
    return words, frozenset(each for each in numbers if each is not None)


def day(part: str, where: Located, place: Dated) -> date | None:
    """A calendar date; None when blank or (ISO only) without a day. Raises Held for anything else."""
    shown = seen(where.text)
    if not shown or (place.pattern == ISO and _PARTIAL_DATE.fullmatch(shown)):
        return None
    found = date_expression(place.pattern).fullmatch(shown)
    value = calendar_day(found) if found else None
    if value is None:
        raise unreadable(part, where)
    return value


def calendar_day(found: re.Match[str]) -> date | None:
    """The date that an expression found, None when there is no such day between 1900 and 2199."""
    year = int(found["year"]) + (2000 if len(found["year"]) == 2 else 0)
    number = _month(found)
    if number is None:
        return None
    try:
        value = date(year, number, int(found["day"]))
    except ValueError:
        return None
    return value if 1900 <= year < 2200 else None


def _month(found: re.Match[str]) -> int | None:
    """Number of the month, from digits or from its name in the language of the pattern."""
    for group, text in found.groupdict().items():
        if group == "month":
            return int(text)
        if group.startswith("month_"):
            return month(group.removeprefix("month_"), text)
    return None


def clock(part: str, where: Located, place: Clocked) -> time | None:
    """A clock time, 24:00 being midnight; None when blank. Raises Held for anything else."""
    shown = seen(where.text)
    if not shown:
        return None
    found = clock_expression(place.pattern).fullmatch(shown)
    seconds = seconds_of_day(found) if found else None
    if seconds is None:
        raise unreadable(part, where)
    return time(seconds // 3600 % 24, seconds // 60 % 60, seconds % 60)


def seconds_of_day(found: re.Match[str]) -> int | None:
    """Seconds since midnight that an expression found; 24:00 (and only that) is 86400. None for no such time."""
    parts = found.groupdict()
    hour, minute, second = int(parts["hour"]), int(parts["minute"]), int(parts.get("second") or 0)
    if half := parts.get("half"):
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half[0] in "Pp" else 0)
    if (hour, minute, second) == (24, 0, 0):
        return 86400
    return hour * 3600 + minute * 60 + second if hour < 24 and minute < 60 and second < 60 else None


def coded(part: str, where: Located, place: Coded[Meaning]) -> Meaning | None:
    """The meaning of a code; the map's meaning of an empty cell when blank. Raises Held for an unlisted code."""
    word = folded(where.text)
    if not word:
        return place.empty
    for code, meaning in place.codes.items():
        if key(code) == word:
            return meaning
    raise unreadable(part, where)
