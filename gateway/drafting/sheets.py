"""A workbook -> the sheet where a table of readings stands. Nothing in it is run."""

from dataclasses import dataclass, replace

from gateway.drafting.guess import Guess, NoDraft
from gateway.drafting.table import Table, in_lines
from gateway.drafting.words import Words
from gateway.mapping.source_format import Workbook
from gateway.read.held import Held
from gateway.read.opened import Opened
from gateway.read.workbook import lines_once

MOST_SHEETS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The sheet by its number from 1, and the table on it."""

    number: int
    table: Table


def find(content: bytes, words: Words) -> Sheet | NoDraft | None:
    """The first sheet with the most known columns; None when no sheet looks like readings, NoDraft for a workbook
    that cannot be read.
    """
    file, found = Opened(content, ""), list[Sheet]()
    try:
        for number in range(1, MOST_SHEETS + 1):
            lines = lines_once(file, Workbook(kind="workbook", sheet=number))
            if lines is None:
                break
            if (table := in_lines(lines, "", words)) is not None:
                found.append(Sheet(number=number, table=table))
    except Held as held:
        return NoDraft(f"{held.hold.sentence} {held.hold.action}")
    if not found:
        return None
    best = max(found, key=lambda each: len(each.table.columns))
    return replace(best, table=replace(best.table, tied=len(found) > 1))


def guess(sheet: Sheet) -> Guess:
    """Which sheet, and whether another one looks like readings too."""
    said = f"its row {sheet.table.header[0]} is a header with {len(sheet.table.columns)} known words"
    if sheet.table.tied:
        said += "; another sheet has such a header as well"
    return Guess(key="format.sheet", value=sheet.number, evidence=said, proven=not sheet.table.tied)
