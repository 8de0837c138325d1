"""Foreign text made harmless, and numbers and dates as they are printed."""

import json
import unicodedata
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from importlib.resources import files

from gateway.model import Tenths
from gateway.report.words import Words

MISSING_LETTER = "\ufffd"
LONGEST_RUN = 30
KPA_PER_MMHG = Decimal("0.133322")
"""BIPM/NIST SP 811, appendix B: 1 mmHg = 133.3224 Pa (from memory)."""


@cache
def _covered() -> frozenset[int]:
    ranges = json.loads((files("gateway.report") / "fonts" / "coverage.json").read_text("utf-8"))
    return frozenset(point for first, last in ranges for point in range(first, last + 1))


def plain(text: str, most: int = 80) -> str:
    """Text of others as one line of letters that our fonts can draw, at most `most` long.

    Control and direction characters go, letters without a glyph become U+FFFD (a page without glyphs is not
    archivable), and runs without a space get invisible places to break at.
    """
    letters = text[: 4 * most]
    if not (letters.isascii() and letters.isprintable()):
        letters = "".join(_letter(letter) for letter in unicodedata.normalize("NFC", letters))
    line = " ".join(letters.split())
    if len(line) > most:
        line = line[: most - 1].rstrip() + "…"
    return " ".join(_breakable(word) for word in line.split(" "))


def _letter(letter: str) -> str:
    if letter.isspace() or unicodedata.category(letter) == "Cc":
        return " "
    if unicodedata.category(letter) == "Cf":
        return ""
    return letter if ord(letter) in _covered() else MISSING_LETTER


def _breakable(word: str) -> str:
    pieces = [word[at : at + LONGEST_RUN] for at in range(0, len(word), LONGEST_RUN)]
    return "\u200b".join(pieces)


def joined(sentence: str) -> str:
    """The sentence with its units held to their numbers at a line's end."""
    return sentence.replace(" %", "\u00a0%").replace(" mmHg", "\u00a0mmHg")


def number(value: Decimal | None) -> str:
    """A reported value exactly as reported; "–" where there is none.

    Minus is the hyphen of ASCII: the fonts have no U+2212, and a page with a letter that they lack cannot be set.
    """
    return "–" if value is None else f"{value:f}"


def tenths(value: Tenths | int | None) -> str:
    """A measured value without a needless ".0"; "–" where there is none."""
    if value is None:
        return "–"
    whole, rest = divmod(abs(value), 10)
    return ("-" if value < 0 else "") + (f"{whole}.{rest}" if rest else str(whole))


def pair(systolic: Decimal | None, diastolic: Decimal | None) -> str:
    """Systolic over diastolic."""
    return f"{number(systolic)}/{number(diastolic)}"


def in_kpa(value: Decimal | None) -> Decimal | None:
    """mmHg as kilopascal, half up to one decimal."""
    return None if value is None else (value * KPA_PER_MMHG).quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)


def whole(value: Decimal) -> str:
    """A limit without a needless ".0"."""
    return number(value.to_integral_value() if value == value.to_integral_value() else value)


def long_date(day: date, words: Words) -> str:
    """ "3 March 2026" in the words of the page."""
    return words.say("date", day=day.day, month=words.months[day.month - 1], year=day.year)


def short_date(day: date, words: Words) -> str:
    """ "3 March"."""
    return words.say("short-date", day=day.day, month=words.months[day.month - 1])


def clock(moment: datetime) -> str:
    """Local time of day as "09:05"."""
    return f"{moment:%H:%M}"


def moment_text(moment: datetime, words: Words) -> str:
    """ "10:30, 3 March"."""
    return f"{clock(moment)}, {short_date(moment.date(), words)}"
