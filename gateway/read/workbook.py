"""Workbooks -> rows of cells. Nothing in them is run: a formula counts by the result that was stored beside it."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace

from gateway.mapping.source import SourceMap, places
from gateway.mapping.source_format import Workbook
from gateway.mapping.source_parts import NoteTable
from gateway.model import HoldReason
from gateway.read import grid
from gateway.read.archive import is_archive, parts
from gateway.read.extract import Extract, Table, folded, seen
from gateway.read.grid import MOST_CELLS, MOST_ROWS
from gateway.read.held import Held
from gateway.read.opened import Opened
from gateway.read.sections import Line, Section, header_at, words_of
from gateway.read.sheet_ods import ods_rows
from gateway.read.sheet_xlsx import xlsx_rows

_UNRECKONED = re.compile(
    rb"<(?:\w+:)?f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)\s*(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v></(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)


def claims(file: Opened, source: SourceMap, form: Workbook) -> bool:
    """Is it a workbook whose sheet shows the signs of the map? Raises Held for a hostile or damaged one."""
    if not is_archive(file.content):
        return False
    lines = lines_once(file, form)
    return lines is not None and grid.claims(lines, source, form)


def extract(file: Opened, source: SourceMap, form: Workbook) -> tuple[Extract, str]:
    """Facts and rows of the sheet, tables of the diary on it or on others. Raises Held when they do not add up."""
    lines = lines_once(file, form) if is_archive(file.content) else None
    if lines is None:
        raise Held(HoldReason.NO_MAP, "it is no workbook with such a sheet")
    tables = source.diary.tables
    found = grid.extract(lines, source, form, [table for table in tables if table.sheet is None])
    here = iter(found.tables)
    every = tuple(next(here) if table.sheet is None else _elsewhere(file, form, table) for table in tables)
    return replace(found, tables=every), "workbook"


def _elsewhere(file: Opened, form: Workbook, declared: NoteTable) -> Table:
    """A table of the diary on a sheet of its own; nothing stands above its header that is read."""
    lines = lines_once(file, form.model_copy(update={"sheet": declared.sheet})) or []
    grid.refuse_formulas(lines)
    at = header_at(lines, declared.header)
    if at is None:
        return Table((), ())
    ends = words_of(form.ends)
    stop = next((i for i in range(at + 1, len(lines)) if folded(lines[i][1][0]) in ends), len(lines))
    section = Section(lines[at], list(lines[at + 1 : stop]))
    return grid.table(section, [place for _, place in places(declared)])


def lines_once(file: Opened, form: Workbook) -> list[Line] | None:
    """Rows of the sheet that are not blank; None when it is no workbook or has no such sheet. Raises Held."""
    return file.once(("sheet", form.sheet, form.decimal), lambda: _lines(file.content, form))


def _lines(content: bytes, form: Workbook) -> list[Line] | None:
    """Rows of the sheet that are not blank; None when it is no workbook or has no such sheet."""
    found = parts(content)
    _refuse_unreckoned(found)
    rows = _rows(found, content, form)
    if rows is None:
        return None
    lines: list[Line] = []
    for number, cells in rows:
        while cells and not seen(cells[-1]):
            cells.pop()
        if not cells:
            continue
        if len(cells) > MOST_CELLS:
            raise Held(HoldReason.FILE_UNREADABLE, f"row {number} has more than {MOST_CELLS} cells")
        if len(lines) >= MOST_ROWS:
            raise Held(HoldReason.FILE_TOO_LARGE, f"more than {MOST_ROWS} rows")
        lines.append((number, cells))
    return lines


def _refuse_unreckoned(found: Mapping[str, bytes]) -> None:
    """A formula whose result was never stored would look like a blank cell."""
    if any(_UNRECKONED.search(content) for name, content in found.items() if name.startswith("xl/worksheets/")):
        raise Held(HoldReason.FILE_UNREADABLE, "a formula has no stored result; save the workbook in a spreadsheet")


def _rows(found: Mapping[str, bytes], content: bytes, form: Workbook) -> Iterator[Line] | None:
    if "xl/workbook.xml" in found:
        return xlsx_rows(content, form)
    if "content.xml" in found:
        return ods_rows(found["content.xml"], form)
    return None
