"""How tall the course may be, so that answer, course and numbers stand on one page.

An estimate from line counts: cheap, the same at every run, and a little generous. Where less than a readable
course would be left, the numbers go to the next page instead.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil
from typing import Any

HEIGHTS = {"a4": 771.0, "us-letter": 721.0}
"""points between the margins"""
LEAST, MOST, ALONE = 146.0, 240.0, 300.0
HEAD, LINE, NOTE_LINE, ROW, SMALL = 190.0, 10.4, 9.6, 8.5, 9.2
"""points: everything above the list of what stands out, one line of it, of notes, of a table, of small print"""
WIDE, NOTE, LEFT, RIGHT, FULL, NAME = 120, 130, 84, 57, 138, 42
"""letters to a line"""
REVIEW, RULES, CARDS, HEADING = 30.0, 44.0, 63.0, 24.0


@dataclass(frozen=True, slots=True)
class Room:
    """Height of the course in points; `together`: the numbers stand below it on the same page."""

    height: float
    together: bool


def room_for(page: dict[str, Any], days: int, paper: str) -> Room:
    """Room for the course. The numbers of two days always have a page of their own."""
    above = _above(page) + CARDS * (days - 1)
    alone = round(min(ALONE, max(LEAST, HEIGHTS[paper] - above - RULES)), 1)
    left = HEIGHTS[paper] - above - _below(page)
    if days > 1 or left < LEAST:
        return Room(alone, False)
    return Room(round(min(MOST, left), 1), True)


def _above(page: dict[str, Any]) -> float:
    height = HEAD + LINE * _lines(page["stands-out"][1], WIDE)
    height += (HEADING + LINE * _lines(page["last-test"][1], WIDE)) if page["last-test"][1] else 0
    height += LINE * _lines([*page["verdict"]["reasons"], page["why-not"]], WIDE - 30)
    height += REVIEW if page["review"] else 0
    height += LINE * (len(page["questions"]) - 2)
    height += 14 * (_lines([page["person"]["name"]], NAME) - 1)
    notes = "; ".join(" ".join(note) for note in page["notes"][1])
    return height + (4 + NOTE_LINE * _lines([notes], NOTE) if notes else 0)


def _below(page: dict[str, Any]) -> float:
    rows = len(page["numbers"]["rows"]) + len(page["whole"]["rows"]) + 3
    reasons = _lines([" ".join(" ".join(reason) for reason in page["reasons"])], LEFT)
    first = ROW * rows + SMALL * reasons
    facts = _lines([": ".join(fact) for fact in page["facts"][1]], RIGHT)
    origin = _lines(["; ".join(": ".join(fact) for fact in page["facts"][2])], RIGHT)
    second = ROW * (len(page["counts"]["rows"]) + 1) + SMALL * (facts + origin + 2)
    cautions = _lines(page["cautions"][1], FULL) + _lines([page["cautions"][2]], FULL) + 1
    return RULES + max(first, second) + SMALL * cautions


def _lines(texts: Iterable[str], letters: int) -> int:
    return sum(ceil(len(text) / letters) for text in texts)
