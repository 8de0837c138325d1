"""Workbooks -> rows of cells. Nothing in them is run: a formula counts by the result that was stored beside it."""

import re
from collections.abc import Iterator, Mapping

from gateway.mapping.source import SourceMap
from gateway.mapping.source_format import Workbook
from gateway.model import HoldReason
from gateway.read import grid
from gateway.read.archive import is_archive, parts
from gateway.read.extract import Extract, seen
from gateway.read.grid import MOST_CELLS, MOST_ROWS, Line
from gateway.read.held import Held
from gateway.read.sheet_ods import ods_rows
from gateway.read.sheet_xlsx import xlsx_rows

_UNRECKONED = re.compile(
    rb"<(?:\w+:)?f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)\s*(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v></(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)


def claims(content: bytes, source: SourceMap, form: Workbook) -> bool:
    """Is it a workbook whose sheet shows the signs of the map? Raises Held for a hostile or damaged one."""
    if not is_archive(content):
        return False
    lines = _lines(content, form)
    return lines is not None and grid.claims(lines, source, form)


def extract(content: bytes, source: SourceMap, form: Workbook) -> tuple[Extract, str]:
    """Facts and rows of the sheet. Raises Held when they do not add up."""
    lines = _lines(content, form) if is_archive(content) else None
    if lines is None:
        raise Held(HoldReason.NO_MAP, "it is no workbook with such a sheet")
    return grid.extract(lines, source, form), "workbook"


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
