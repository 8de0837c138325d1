"""Rows of one sheet of an Office Open XML workbook, one after the other and never all of its width at once."""

import io
import re
import warnings
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import Any

from gateway.mapping.source_format import Workbook
from gateway.model import HoldReason
from gateway.read.cells import clock, day, figure, moment
from gateway.read.grid import MOST_CELLS
from gateway.read.held import Held
from gateway.read.sections import Line

_QUOTED = re.compile(r'"[^"]*"|\\.|\[[^\]hmsHMS]*\]')
MOST_STORED = 20_000
"""Rows that stand in the file, blank but styled ones too."""
MOST_WIDE = 200
"""Rows with a cell, though a blank one, beyond the width that is read; each is as wide in memory as its last cell."""
MOST_BLANK = 1_048_576
"""The rows that a sheet can have; it is walked to its end, for readings may stand below blank rows."""


def xlsx_rows(content: bytes, form: Workbook) -> Iterator[Line] | None:
    """Rows with their numbers; None when there is no such sheet. Raises Held for a damaged workbook."""
    from openpyxl import load_workbook  # heavy, and only needed here

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what it cannot show (pictures, checks of entry) holds no reading
            book = load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
    except MemoryError:
        raise
    except Exception:  # the library raises whatever a damaged part leads to; all of it means one thing
        raise Held(HoldReason.FILE_UNREADABLE, "the workbook is damaged") from None
    names = book.sheetnames
    if isinstance(form.sheet, int):
        name = names[form.sheet - 1] if form.sheet <= len(names) else None
    else:
        name = next((each for each in names if each.casefold() == str(form.sheet).casefold()), None)
    return None if name is None else _rows(book[name], form)


def _rows(sheet: Any, form: Workbook) -> Iterator[Line]:
    if not hasattr(sheet, "reset_dimensions"):  # a chart sheet has no cells
        return
    sheet.reset_dimensions()  # the stated size may be wrong either way
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            gap: Any = None
            stored, wide = 0, 0
            for number, row in enumerate(sheet.iter_rows(max_row=MOST_BLANK), 1):
                if row is gap:  # rows that are not in the file are all one object: there may be a million of them
                    continue
                gap = row
                stored += 1
                wide += len(row) > MOST_CELLS
                if stored > MOST_STORED or wide > MOST_WIDE:
                    raise Held(HoldReason.FILE_TOO_LARGE, f"more than {MOST_STORED} rows, most of them blank")
                if any(cell.value is not None for cell in row):
                    yield number, [_text(cell, form.decimal) for cell in row]
    except Held:
        raise
    except MemoryError:
        raise
    except Exception:
        raise Held(HoldReason.FILE_UNREADABLE, "the sheet is damaged") from None


def _text(cell: Any, mark: str) -> str:
    """A cell as text. A number whose format shows leading zeros is what it shows."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        if isinstance(value, float) and value != value:
            return "NaN"
        return figure(value, mark)
    if isinstance(value, datetime):
        return moment(value, _shows_clock(cell.number_format))
    if isinstance(value, date):
        return day(value)
    if isinstance(value, time | timedelta):
        return clock(value)
    return str(value)


def _shows_clock(number_format: str) -> bool:
    return bool(re.search("[hHsS]", _QUOTED.sub("", number_format)))
