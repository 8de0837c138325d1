"""XML and JSON -> where the readings stand: the list whose members look most like readings, and the facts around."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from gateway.drafting.facts import Fact
from gateway.drafting.guess import Guess
from gateway.drafting.table import MOST_CELLS, MOST_ROWS, Line, Table, in_lines
from gateway.drafting.words import MarkedWords, Words, meanings

MOST_BRANCHES = 100
"""lists that are looked at, those with the most members first"""
_STEP = re.compile(r"(?P<name>[^/\\[]+)(?:\[@[^=]+='(?P<value>[^']*)'\])?")
_HUMP = re.compile(r"(?<=[a-z0-9])(?=[A-Z])")


Member = TypeVar("Member")


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """A list in the document: its path, and for each member its values by their paths from the member."""

    path: str
    rows: Sequence[Mapping[str, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The list that looks most like readings, as a table."""

    path: str
    table: Table


def largest(lists: Mapping[str, list[Member]]) -> list[tuple[str, list[Member]]]:
    """The lists with the most members, largest first, and of each no more members than a draft needs."""
    by_size = sorted(lists.items(), key=lambda each: -len(each[1]))[:MOST_BRANCHES]
    return [(path, members[:MOST_ROWS]) for path, members in by_size]


def best(branches: Sequence[Branch], words: Words) -> Found | None:
    """The list whose members have the most known words; None when none looks like readings."""
    found = [Found(path=each.path, table=table) for each in branches if (table := _table(each, words)) is not None]
    if not found:
        return None
    most = max(len(each.table.columns) for each in found)
    fitting = [each for each in found if len(each.table.columns) == most]
    return replace(fitting[0], table=replace(fitting[0].table, tied=len(fitting) > 1))


def _table(branch: Branch, words: Words) -> Table | None:
    paths = tuple(dict.fromkeys(path for row in branch.rows for path in row))
    if len(paths) > MOST_CELLS:
        return None
    header: Line = (0, [_word(path, words.columns) for path in paths])
    body = [(number, [row.get(path, "") for path in paths]) for number, row in enumerate(branch.rows, 1)]
    table = in_lines([header, *body], "", words)
    return replace(table, paths=paths) if table is not None and not table.above else None


def _word(path: str, known: MarkedWords) -> str:
    """The word of the path that is known, the nearest to its end first; its last word when none is."""
    said = list(_candidates(path))
    return next((each for each in said if meanings(each, known)), said[0] if said else "")


def _candidates(path: str) -> Iterator[str]:
    """`wearer/number` is called "number", "wearer number", "number wearer", "wearer"."""
    before = ""
    for step in reversed(list(_STEP.finditer(path))):
        name = _HUMP.sub(" ", step["name"].lstrip("@").rpartition(":")[2])
        if before:
            yield f"{name} {before}"
            yield f"{before} {name}"
        yield name
        if step["value"]:
            yield step["value"]
        before = before or name


def facts(values: Sequence[tuple[str, str]], words: Words) -> tuple[Fact, ...]:
    """Each path outside the readings as a fact, with all values that stand there."""
    by_path: dict[str, list[str]] = {}
    for path, text in values:
        by_path.setdefault(path, []).append(text.strip())
    found = []
    for number, (path, texts) in enumerate(by_path.items(), 1):
        said = meanings(_word(path, words.facts), words.facts)
        found.append(Fact(row=number, name=path, values=tuple(texts), meaning=said[0] if said else ""))
    return tuple(found)


def rows_guess(found: Found) -> Guess:
    """Where the readings stand, and whether another list looks like readings too."""
    said = f"a list of {len(found.table.body)} with {len(found.table.columns)} known words"
    if found.table.tied:
        said += "; another list has as many"
    return Guess(key="format.rows", value=found.path, evidence=said, proven=not found.table.tied)
