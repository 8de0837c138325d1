"""Text without a delimiter -> columns of fixed width, by the places that are blank in the header and in every row."""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, pairwise, takewhile

from gateway.drafting.guess import Guess
from gateway.drafting.table import HEADER_WITHIN, MOST_CELLS, MOST_HEADERS, MOST_ROWS, Table, in_lines
from gateway.drafting.words import Words, meanings

MOST_WIDTH = 2_000
ENOUGH = 3
"""rows below which a place may be blank by chance"""
_WORD = re.compile(r"\S+(?: \S+)*")
_SINGLE = re.compile(r"\S+")

Text = tuple[int, str]
"""Line number and text of a row that is not blank."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruled:
    """A table in fixed columns: where the cells begin (from 1), how many rows show it, and whether words or values
    with a blank in them had to be put together.
    """

    table: Table
    cuts: tuple[int, ...]
    rows: int
    joined: bool


def find(text: str, words: Words) -> Ruled | None:
    """The table, None when nothing looks like readings in columns."""
    lines = list(islice(_lines(text), MOST_ROWS + HEADER_WITHIN))
    heads = [at for at, (_, row) in enumerate(lines[:HEADER_WITHIN]) if _may_head(row, words)]
    for at in heads[:MOST_HEADERS]:
        if (found := _ruled(lines, at, words)) is not None:
            return found
    return None


def guess(found: Ruled) -> Guess:
    """Where the cells begin."""
    said = f"the places in front of them are blank in the header and in {found.rows} rows"
    if found.joined:
        said += "; some words or values have a blank inside: does every cell begin where a column does?"
    firm = not found.joined and found.rows >= ENOUGH
    return Guess(key="format.cuts", value=list(found.cuts), evidence=said, proven=firm)


def with_cells_above(found: Ruled) -> Table:
    """The table with the rows above it cut as its own are: no sign parts name and value of the facts."""
    above = tuple((number, _cut(cells[0], found.cuts)) for number, cells in found.table.above)
    return replace(found.table, above=above)


def _lines(text: str) -> Iterator[Text]:
    rows = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    yield from ((number, row) for number, row in enumerate(rows, 1) if row.strip())


def _may_head(row: str, words: Words) -> bool:
    """Do its words name both pressures? A word may be two with one blank between them."""
    if len(row) > MOST_WIDTH or "\t" in row:
        return False
    single = _SINGLE.findall(row)[:MOST_CELLS]
    every = {*single, *(f"{first} {second}" for first, second in pairwise(single)), *_WORD.findall(row)[:MOST_CELLS]}
    said = {meaning for each in every for meaning in meanings(each, words.columns)}
    return {"systolic", "diastolic"} <= said


def _ruled(lines: Sequence[Text], at: int, words: Words) -> Ruled | None:
    header, below = lines[at], lines[at + 1 :]
    block = [first for first, _ in takewhile(lambda pair: pair[1][0] == pair[0][0] + 1, pairwise([header, *below]))]
    body = [row for _, row in below[: len(block)]]
    if not body or any("\t" in row or len(row) > MOST_WIDTH for row in body):
        return None
    cuts, joined = _cuts(header[1], body)
    if not 2 <= len(cuts) <= MOST_CELLS:
        return None
    table = in_lines([(number, _cut(row, cuts)) for number, row in (header, *below)], "", words)
    if table is None or table.above:
        return None
    above = tuple((number, [row]) for number, row in lines[:at])
    return Ruled(table=replace(table, above=above), cuts=cuts, rows=len(body), joined=joined)


@dataclass(frozen=True, slots=True)
class _Run:
    """Places without a blank between them, over all rows: from, to before, with signs of the header, of values."""

    start: int
    end: int
    headed: bool
    filled: bool

    def with_(self, after: "_Run") -> "_Run":
        return _Run(self.start, after.end, self.headed or after.headed, self.filled or after.filled)


def _cuts(header: str, body: Sequence[str]) -> tuple[tuple[int, ...], bool]:
    """Where the cells begin, and whether runs had to be put together: a word of the header with the values to its
    right that stand under no word, then a run without the one or the other with what is one blank to its left.
    """
    in_body = {at for row in body for at, sign in enumerate(row) if sign != " "}
    in_head = {at for at, sign in enumerate(header) if sign != " "}
    every = [
        _Run(start, end, not in_head.isdisjoint(range(start, end)), not in_body.isdisjoint(range(start, end)))
        for start, end in _runs(sorted(in_body | in_head))
    ]
    under = _joined(every, lambda left, right: not left.filled and not right.headed)
    whole = _joined(under, lambda left, right: not (right.headed and right.filled) and right.start - left.end == 1)
    return (1, *(run.start + 1 for run in whole[1:])), len(whole) < len(every)


def _joined(runs: Sequence[_Run], together: Callable[[_Run, _Run], bool]) -> list[_Run]:
    found: list[_Run] = []
    for run in runs:
        if found and together(found[-1], run):
            found[-1] = found[-1].with_(run)
        else:
            found.append(run)
    return found


def _runs(places: Sequence[int]) -> Iterator[tuple[int, int]]:
    start = places[0]
    for here, after in pairwise([*places, places[-1] + 2]):
        if after != here + 1:
            yield start, here + 1
            start = after


def _cut(row: str, cuts: Sequence[int]) -> list[str]:
    starts = [cut - 1 for cut in cuts]
    ends: list[int | None] = [*starts[1:], None]
    return [row[start:end] for start, end in zip(starts, ends, strict=True) if start < len(row)]
