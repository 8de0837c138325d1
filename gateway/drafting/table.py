"""Text, or rows of cells -> where the table stands: delimiter, header row, and which column seems to be what."""

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from gateway.drafting.moments import CLOCK, DATE, is_moment
from gateway.drafting.words import Words, meanings

DELIMITERS = (",", ";", "\t", "|", "^", "~")
MOST_ROWS = 5_000
MOST_CELLS = 200
HEADER_WITHIN, MOST_HEADERS = 200, 5
NUMBER = re.compile(r"-?\d{1,6}(?:[.,]\d{1,6})?", re.ASCII)
NUMERIC = ("systolic", "diastolic", "mean", "heart_rate")
_SHAPES = {"date": DATE, "time": CLOCK, **dict.fromkeys(NUMERIC, NUMBER)}

Line = tuple[int, list[str]]
"""First line of a row in the file, and its cells."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table found in a text. `columns`: index of the column for each meaning; `rivals`: further columns whose
    header has the same meaning; `tied`: another delimiter, sheet or list fits as well. `paths`: how a map names the
    columns where that is not by the words of the header.
    """

    delimiter: str
    tied: bool
    above: tuple[Line, ...]
    header: Line
    body: tuple[Line, ...]
    columns: Mapping[str, int]
    rivals: Mapping[str, tuple[int, ...]]
    paths: tuple[str, ...] | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """How a map names each column, blank for one without a name."""
        return self.paths or tuple(cell.strip() for cell in self.header[1])

    def name(self, meaning: str) -> str:
        """How a map names the column."""
        return self.names[self.columns[meaning]]

    def word(self, meaning: str) -> str:
        """Header word of a column."""
        return self.header[1][self.columns[meaning]].strip()

    def cells(self, meaning: str) -> list[tuple[int, str]]:
        """Row and text of every cell of a column, blank where the row is shorter."""
        at = self.columns[meaning]
        return [(row, cells[at].strip() if at < len(cells) else "") for row, cells in self.body]


def find(text: str, words: Words) -> Table | None:
    """The table that the most words of a header speak for, None when nothing looks like readings."""
    found = [table for delimiter in DELIMITERS if (table := _cut_by(text, delimiter, words)) is not None]
    if not found:
        return None
    most = max(len(each.columns) for each in found)
    best = [each for each in found if len(each.columns) == most]
    return best[0] if len(best) == 1 else replace(best[0], tied=True)


def _cut_by(text: str, delimiter: str, words: Words) -> Table | None:
    try:
        lines = list(islice(_rows(text, delimiter), MOST_ROWS + 1))
    except csv.Error:
        return None
    return in_lines(lines, delimiter, words)


def in_lines(lines: Sequence[Line], delimiter: str, words: Words) -> Table | None:
    """The table among rows of cells; `delimiter` is what parted them, "" where nothing did."""
    heads = [(at, line) for at, line in enumerate(lines[:HEADER_WITHIN]) if _may_head(line, words)]
    for at, line in heads[:MOST_HEADERS]:
        columns, rivals = _columns(line, lines[at + 1 :], words)
        if {"systolic", "diastolic"} <= columns.keys() and columns.keys() & {"moment", "time"}:
            return Table(
                delimiter=delimiter,
                tied=False,
                above=tuple(lines[:at]),
                header=line,
                body=tuple(lines[at + 1 :]),
                columns=columns,
                rivals=rivals,
            )
    return None


def _rows(text: str, delimiter: str) -> Iterator[Line]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    line = 1
    for cells in reader:
        if any(cell.strip() for cell in cells):
            yield line, cells
        line = reader.line_num + 1


def _may_head(line: Line, words: Words) -> bool:
    if len(line[1]) > MOST_CELLS:
        return False
    said = {meaning for cell in line[1] for meaning in meanings(cell, words.columns)}
    return {"systolic", "diastolic"} <= said


def _columns(header: Line, body: Sequence[Line], words: Words) -> tuple[dict[str, int], dict[str, tuple[int, ...]]]:
    """Header words say what a column may be; its cells decide where one word has two meanings (dia, tid)."""
    columns: dict[str, int] = {}
    rivals: dict[str, tuple[int, ...]] = {}
    for at, cell in enumerate(header[1]):
        texts = [cells[at].strip() for _, cells in body if at < len(cells) and cells[at].strip()]
        fitting = [meaning for meaning in meanings(cell, words.columns) if _fits(meaning, texts)]
        if not fitting:
            continue
        free = [meaning for meaning in fitting if meaning not in columns]
        if free:
            columns[free[0]] = at
        else:
            rivals[fitting[0]] = (*rivals.get(fitting[0], ()), at)
    return columns, rivals


def _fits(meaning: str, texts: Sequence[str]) -> bool:
    if meaning == "moment":
        return any(map(is_moment, texts))
    shape = _SHAPES.get(meaning)
    if shape is None or (not texts and meaning in ("mean", "heart_rate")):
        return True
    return any(shape.fullmatch(text) for text in texts)
