"""Rows of one sheet of an OpenDocument workbook (OpenDocument 1.3, part 3, chapter 9)."""

import io
import re
from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal, InvalidOperation
from xml.etree.ElementTree import Element, ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import iterparse

from gateway.mapping.source_format import Workbook
from gateway.model import HoldReason
from gateway.read.cells import clock, figure
from gateway.read.grid import MOST_CELLS, MOST_ROWS
from gateway.read.held import Held
from gateway.read.sections import Line

_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_CELLS = (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell")
_PERIOD = re.compile(r"PT(\d{1,4})H(\d{1,2})M(\d{1,2})(?:[.,]\d+)?S", re.ASCII)


def ods_rows(content: bytes, form: Workbook) -> Iterator[Line] | None:
    """Rows with their numbers; None when there is no such sheet. Raises Held for a damaged workbook."""
    try:
        return _chosen(content, form)
    except (ParseError, DefusedXmlException, ValueError, LookupError):
        raise Held(HoldReason.FILE_UNREADABLE, "the workbook is damaged") from None


def _chosen(content: bytes, form: Workbook) -> Iterator[Line] | None:
    """The rows are collected here: a fault further down must not surface while somebody walks them."""
    sheet = 0
    lines: list[Line] = []
    number = 0
    wanted = False
    for event, element in iterparse(io.BytesIO(content), events=("start", "end"), forbid_dtd=True):
        if event == "start" and element.tag == f"{_TABLE}table":
            sheet += 1
            name = element.get(f"{_TABLE}name", "")
            wanted = form.sheet == sheet or name.casefold() == str(form.sheet).casefold()
        elif event == "end" and element.tag == f"{_TABLE}table-row":
            repeated = _repeated(element, "rows")
            cells = list(_cells(element, form.decimal)) if wanted else []
            if any(cells):
                if repeated > MOST_ROWS or len(lines) + repeated > MOST_ROWS:
                    raise Held(HoldReason.FILE_TOO_LARGE, f"more than {MOST_ROWS} rows")
                lines += [(number + at, list(cells)) for at in range(1, repeated + 1)]
            number += repeated
            element.clear()
        elif event == "end" and element.tag == f"{_TABLE}table":
            if wanted:
                return iter(lines)
            number = 0
            element.clear()
    return None


def _repeated(element: Element, what: str) -> int:
    return min(max(int(element.get(f"{_TABLE}number-{what}-repeated", "1")), 1), 1_048_576)


def _cells(row: Element, mark: str) -> Iterator[str]:
    """Cells of a row; blank ones at its end, of which there may be thousands, are not written out."""
    pending = 0
    width = 0
    for cell in row:
        if cell.tag not in _CELLS:
            continue
        repeated = _repeated(cell, "columns")
        text = _text(cell, mark)
        if not text:
            pending += repeated
            continue
        width += pending + repeated
        if width > MOST_CELLS:
            raise Held(HoldReason.FILE_UNREADABLE, f"a row has more than {MOST_CELLS} cells")
        yield from [""] * pending
        yield from [text] * repeated
        pending = 0


def _text(cell: Element, mark: str) -> str:
    kind = cell.get(f"{_OFFICE}value-type")
    if kind in ("float", "percentage", "currency"):
        try:
            value = Decimal(cell.get(f"{_OFFICE}value", ""))
        except InvalidOperation:
            raise ValueError("a number cell without a number") from None
        if not value.is_finite() or abs(value.adjusted()) > 30:
            raise ValueError("a number beyond all measure")
        return figure(value, mark)
    if kind == "date":
        return cell.get(f"{_OFFICE}date-value", "")
    if kind == "time":
        found = _PERIOD.fullmatch(cell.get(f"{_OFFICE}time-value", ""))
        if found is None:
            raise ValueError("a time cell without a time")
        return clock(timedelta(hours=int(found[1]), minutes=int(found[2]), seconds=int(found[3])))
    if kind == "boolean":
        return cell.get(f"{_OFFICE}boolean-value", "")
    shown = "\n".join("".join(part.itertext()) for part in cell.iter(f"{_TEXT}p"))
    if not shown and cell.get(f"{_TABLE}formula"):
        raise ValueError("a formula has no stored result")
    return shown
