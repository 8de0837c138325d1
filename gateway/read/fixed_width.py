"""Text in columns of fixed width -> rows of cells."""

from collections.abc import Sequence
from itertools import pairwise

from gateway.mapping.source import SourceMap
from gateway.mapping.source_format import FixedWidth
from gateway.model import HoldReason
from gateway.read import grid
from gateway.read.extract import Extract, seen
from gateway.read.grid import MOST_ROWS
from gateway.read.held import Held
from gateway.read.opened import Opened
from gateway.read.sections import Line
from gateway.read.text import decode, glance


def claims(file: Opened, source: SourceMap, form: FixedWidth) -> bool:
    """Are the signs of the map at the beginning of this text?"""
    start = file.once(("glance", form.code_page), lambda: glance(file.content, form.code_page))
    return grid.claims(_lines(start, form), source, form)


def extract(file: Opened, source: SourceMap, form: FixedWidth) -> tuple[Extract, str]:
    """A whole file and its encoding. Raises Held when its rows do not add up."""
    text, encoding = decode(file.content, form.code_page)
    lines = _lines(text, form)
    if len(lines) > MOST_ROWS:
        raise Held(HoldReason.FILE_TOO_LARGE, f"more than {MOST_ROWS} rows")
    found = grid.extract(lines, source, form, source.diary.tables)
    _refuse_across(lines, found, form)
    _refuse_cut_off(text, lines, found)
    return found, encoding


def _lines(text: str, form: FixedWidth) -> list[Line]:
    """Rows that are not blank; cells keep their blanks, so that one after the other they are the row again."""
    starts = [cut - 1 for cut in form.cuts]
    ends: list[int | None] = [*starts[1:], None]
    rows = enumerate(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), 1)
    return [
        (number, [row[start:end] for start, end in zip(starts, ends, strict=True) if start < len(row)])
        for number, row in rows
        if seen(row)
    ]


def _refuse_across(lines: Sequence[Line], found: Extract, form: FixedWidth) -> None:
    """A value that runs over its width would be cut in two, and both halves might look right."""
    table = {row.number for row in (*found.rows, *(row for each in found.tables for row in each.rows))}
    for row, cells in lines:
        if row not in table:
            continue
        if any("\t" in cell for cell in cells):
            raise Held(HoldReason.FILE_UNREADABLE, f"row {row} holds a tab, whose width is not known")
        if not form.dense and any(left[-1:].strip() and right[:1].strip() for left, right in pairwise(cells)):
            raise Held(HoldReason.VALUE_UNREADABLE, f"row {row}: a value stands across two columns")


def _refuse_cut_off(text: str, lines: Sequence[Line], found: Extract) -> None:
    """A last row without line end and with too few cells was cut off while it was written."""
    row, cells = lines[-1]
    last = bool(found.rows) and found.rows[-1].number == row
    if last and not text.endswith(("\n", "\r")) and len(cells) < len(found.columns):
        raise Held(HoldReason.FILE_UNREADABLE, f"row {row}, the last one, is cut off")
