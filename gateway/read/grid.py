"""Rows of cells, from text or from a sheet -> facts and rows."""

import re
from collections.abc import Iterator, Sequence

from gateway.mapping.source import SourceMap, places
from gateway.mapping.source_format import Grid
from gateway.model import HoldReason
from gateway.read.extract import Extract, Fact, Figure, Row, folded, seen
from gateway.read.held import Held

MOST_ROWS = 5_000
MOST_CELLS = 200
_FORMULA = re.compile(r"\s*(=|[+@-][A-Za-z]+\()")

Line = tuple[int, list[str]]
"""First line of a row in the file, and its cells."""


def claims(lines: Sequence[Line], source: SourceMap, form: Grid) -> bool:
    """Do a header row and facts above it stand here as the map declares?"""
    at = header_at(lines, source.signs.columns)
    return at is not None and {folded(fact) for fact in source.signs.facts} <= fact_names(lines[:at], form)


def extract(lines: Sequence[Line], source: SourceMap, form: Grid) -> Extract:
    """All rows that are not blank -> facts and table. Raises Held when they do not add up."""
    for row, cells in lines:
        if any(_is_formula(cell) for cell in cells):
            raise Held(HoldReason.FILE_HOSTILE, f"row {row} holds a formula")
    at = header_at(lines, source.signs.columns)
    if at is None:
        raise Held(HoldReason.NO_MAP, "the header row was not found")
    columns = _columns(lines[at], source)
    body = list(_body(lines[at + 1 :], form))
    facts = tuple(_fact(line, form) for line in lines[:at])
    _refuse_second_recording(body, facts, source)
    _refuse_more_values(facts, source)
    return Extract(facts=facts, columns=columns, rows=tuple(_row(line, columns) for line in body))


def _is_formula(cell: str) -> bool:
    """Would a spreadsheet run this: a formula, a call, or a command in the style of name|argument!cell?"""
    command = "|" in cell and "!" in cell and cell.lstrip().startswith(("+", "-", "@"))
    return command or _FORMULA.match(cell) is not None


def header_at(lines: Sequence[Line], words: Sequence[str]) -> int | None:
    """Index of the first row that holds all the words, None if there is none."""
    wanted = {folded(word) for word in words}
    return next((at for at, (_, cells) in enumerate(lines) if wanted <= {folded(cell) for cell in cells}), None)


def fact_names(lines: Sequence[Line], form: Grid) -> set[str]:
    """Folded names of the facts in these rows."""
    return {_fact(line, form).name for line in lines}


def _fact(line: Line, form: Grid) -> Fact:
    row, cells = line
    if form.fact_separator is not None:
        name, _, value = form.joint.join(cells).partition(form.fact_separator)
        cells = [name, value]
    values = [seen_value(cell) for cell in cells[1:]]
    while values and not values[-1]:
        values.pop()
    return Fact(row, folded(cells[0]), tuple(values))


def seen_value(text: str) -> str:
    """A cell's text without blanks around it. Invisible characters within names and notes may belong there."""
    if isinstance(text, Figure):
        return text
    return text.strip() if seen(text) else ""


def _columns(header: Line, source: SourceMap) -> tuple[str, ...]:
    row, cells = header
    columns = tuple(folded(cell) for cell in cells)
    for place in (place for _, place in places(source) if place.column is not None):
        if columns.count(folded(place.column or "")) > 1:
            raise Held(HoldReason.FACTS_DISAGREE, f"the header in row {row} has column '{place.column}' twice")
    return columns


def _body(lines: Sequence[Line], form: Grid) -> Iterator[Line]:
    ends = {folded(word) for word in form.ends}
    for row, cells in lines:
        if folded(cells[0]) in ends:
            return
        yield row, cells


def _refuse_second_recording(body: Sequence[Line], facts: Sequence[Fact], source: SourceMap) -> None:
    """A fact of the preamble or another header below the table means that two recordings stand in one file."""
    known = {folded(place.fact) for _, place in places(source) if place.fact is not None}
    known |= {fact.name for fact in facts if fact.name} | {folded(name) for name in source.signs.facts}
    wanted = {folded(word) for word in source.signs.columns}
    for row, cells in body:
        if folded(cells[0]) in known or wanted <= {folded(cell) for cell in cells}:
            raise Held(HoldReason.FACTS_DISAGREE, f"a second recording seems to begin in row {row}")


def _refuse_more_values(facts: Sequence[Fact], source: SourceMap) -> None:
    """A delimiter that stands unquoted within a text would cut the text short."""
    most: dict[str, int] = {}
    for _, place in places(source):
        if place.fact is not None:
            most[folded(place.fact)] = max(place.part, most.get(folded(place.fact), 0))
    for fact in facts:
        if fact.name in most and len(fact.values) > most[fact.name]:
            raise Held(HoldReason.VALUE_UNREADABLE, f"row {fact.row} has more cells than the map knows")


def _row(line: Line, columns: Sequence[str]) -> Row:
    row, cells = line
    if any(seen(cell) for cell in cells[len(columns) :]):
        raise Held(HoldReason.VALUE_UNREADABLE, f"row {row} has more cells than the table has columns")
    return Row(row, {name: str(seen_value(cell)) for name, cell in zip(columns, cells, strict=False) if name})
