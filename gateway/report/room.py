"""How tall the course may be, so that answer, course and numbers stand on one page.

An estimate from line counts: cheap, the same at every run, and a little generous. What does not fit even beside
the smallest course goes on the next page.
"""

from collections.abc import Iterable
from math import ceil

from gateway.report.headline import Json

HEIGHTS = {"a4": 771.0, "us-letter": 721.0}
"""points between the margins"""
LEAST, MOST, TWO_DAYS = 130.0, 225.0, 290.0
HEAD, LINE, NOTE_LINE, ROW, SMALL = 227.0, 10.4, 9.6, 8.4, 9.2
"""points: everything above the list of what stands out, one line of it, of notes, of a table, of small print"""
WIDE, NOTE, LEFT, RIGHT, NAME = 112, 125, 74, 56, 42
"""letters to a line"""
REVIEW, RULES = 30.0, 30.0


def course_height(page: Json, days: int, paper: str) -> float:
    """Points for the course. With two days the numbers have a page of their own."""
    above = HEAD + LINE * _lines(page["stands-out"][1], WIDE)  # type: ignore[index]
    above += LINE * _lines(page["verdict"]["reasons"], WIDE - 30)  # type: ignore[index]
    above += LINE * _lines([str(page["why-not"])], WIDE - 30)
    above += REVIEW if page["review"] else 0
    above += 14 * (_lines([str(page["person"]["name"])], NAME) - 1)  # type: ignore[index]
    notes = page["notes"][1]  # type: ignore[index]
    above += 4 + NOTE_LINE * _lines(["; ".join(" ".join(note) for note in notes)], NOTE) if notes else 0
    if days > 1:
        return min(TWO_DAYS, max(LEAST, HEIGHTS[paper] - above - 90))
    below = RULES + max(_left(page), _right(page))
    return round(min(MOST, max(LEAST, HEIGHTS[paper] - above - below)), 1)


def _left(page: Json) -> float:
    rows = len(page["numbers"]["rows"]) + len(page["whole"]["rows"])  # type: ignore[index]
    small = _lines([" ".join(" ".join(reason) for reason in page["reasons"])], LEFT)  # type: ignore[attr-defined]
    small += _lines(page["cautions"][1], LEFT) + _lines([page["cautions"][2]], LEFT) + 2  # type: ignore[index]
    return ROW * (rows + 3) + SMALL * small


def _right(page: Json) -> float:
    facts = (f"{name}: {value}" for name, value in page["facts"][1])  # type: ignore[index]
    origin = "; ".join(f"{name}: {value}" for name, value in page["facts"][2])  # type: ignore[index]
    small = _lines(facts, RIGHT) + _lines([origin], RIGHT) + 2
    return ROW * (len(page["counts"]["rows"]) + 1) + SMALL * small  # type: ignore[index]


def _lines(texts: Iterable[str], letters: int) -> int:
    return sum(ceil(len(text) / letters) for text in texts)
