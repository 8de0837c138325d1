"""Delimited text -> rows of cells.

The csv module of Python does it, in its strict mode: it keeps every cell as text, tells the line of each row and
says when quotes do not match. A data-frame library would add nothing here but its import time and its guesses.
"""

import csv
import io
from collections.abc import Iterator, Sequence

from gateway.mapping.source import SourceMap
from gateway.mapping.source_format import Delimited
from gateway.model import HoldReason
from gateway.read import grid
from gateway.read.extract import Extract, seen
from gateway.read.grid import MOST_CELLS, MOST_ROWS
from gateway.read.held import Held
from gateway.read.opened import Opened
from gateway.read.sections import Line
from gateway.read.text import decode, glance


def claims(file: Opened, source: SourceMap, form: Delimited) -> bool:
    """Are the signs of the map at the beginning of this text?"""
    start = file.once(("glance", form.code_page), lambda: glance(file.content, form.code_page))
    lines = file.once(("beginning", form.code_page, form.delimiter), lambda: _beginning(start, form))
    return grid.claims(lines, source, form)


def extract(file: Opened, source: SourceMap, form: Delimited) -> tuple[Extract, str]:
    """A whole file and its encoding. Raises Held when its rows do not add up."""
    text, encoding = decode(file.content, form.code_page)
    lines = [line for line in split(text, form) if any(seen(cell) for cell in line[1])]
    found = grid.extract(lines, source, form, source.diary.tables)
    _refuse_cut_off(text, lines, found)
    _refuse_swallowed(lines, found, form)
    return found, encoding


def _beginning(text: str, form: Delimited) -> list[Line]:
    """Rows up to the first that cannot be split: damage further down is told when the file is read."""
    lines: list[Line] = []
    rows = split(text, form)
    while True:
        try:
            line = next(rows, None)
        except Held:
            return lines
        if line is None:
            return lines
        if any(seen(cell) for cell in line[1]):
            lines.append(line)


def split(text: str, form: Delimited) -> Iterator[Line]:
    """Rows of cells with their line numbers. Raises Held for broken quoting and for sizes."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=form.delimiter, strict=True)
    line = 1
    try:
        for count, cells in enumerate(reader):
            if count > MOST_ROWS:
                raise Held(HoldReason.FILE_TOO_LARGE, f"more than {MOST_ROWS} rows")
            if len(cells) > MOST_CELLS:
                raise Held(HoldReason.FILE_UNREADABLE, f"row {line} has more than {MOST_CELLS} cells")
            yield line, cells
            line = reader.line_num + 1
    except csv.Error:
        raise Held(HoldReason.FILE_UNREADABLE, f"quotes or size of a cell from row {line} on") from None


def _widths(found: Extract) -> dict[int, int]:
    """Number of columns of the table that each row belongs to."""
    widths = {row.number: len(found.columns) for row in found.rows}
    return widths | {row.number: len(table.columns) for table in found.tables for row in table.rows}


def _refuse_cut_off(text: str, lines: Sequence[Line], found: Extract) -> None:
    """A last row without line end and with too few cells was cut off while it was written."""
    row, cells = lines[-1]
    if not text.endswith(("\n", "\r")) and len(cells) < _widths(found).get(row, 0):
        raise Held(HoldReason.FILE_UNREADABLE, f"row {row}, the last one, is cut off")


def _refuse_swallowed(lines: Sequence[Line], found: Extract, form: Delimited) -> None:
    """An opening quote without its end takes the rows below into one cell."""
    widths = _widths(found)
    for row, cells in lines:
        for cell in (each for each in cells if row in widths and ("\n" in each or "\r" in each)):
            if any(part.count(form.delimiter) >= max(widths[row] - 1, 1) for part in cell.splitlines()[1:]):
                raise Held(HoldReason.FILE_UNREADABLE, f"row {row} holds a quoted cell that swallows other rows")
