"""Rows of cells, from text or from a sheet -> facts and rows."""

import re
from collections.abc import Sequence
from fnmatch import fnmatchcase

from gateway.mapping.source import SourceMap, places
from gateway.mapping.source_format import Grid
from gateway.mapping.source_parts import CellSign, NoteTable
from gateway.mapping.source_place import Place
from gateway.model import HoldReason
from gateway.read.extract import Extract, Fact, Figure, Row, Table, folded, seen
from gateway.read.held import Held
from gateway.read.sections import Line, Section, header_at, sections, words_of

MOST_ROWS = 5_000
MOST_CELLS = 200
_FORMULA = re.compile(r"\s*(=|[+@-][A-Za-z]+\()")


def claims(lines: Sequence[Line], source: SourceMap, form: Grid) -> bool:
    """Do a header row, facts above it and cells stand here as the map declares?"""
    at = header_at(lines, source.signs.columns)
    if at is None or not all(_shows(lines, sign) for sign in source.signs.cells):
        return False
    return {folded(fact) for fact in source.signs.facts} <= {_fact(line, form).name for line in lines[:at]}


def _shows(lines: Sequence[Line], sign: CellSign) -> bool:
    cells = next((cells for row, cells in lines if row == sign.row), [])
    text = cells[sign.column - 1] if len(cells) >= sign.column else ""
    return bool(text) and fnmatchcase(folded(text), folded(sign.text))


def extract(lines: Sequence[Line], source: SourceMap, form: Grid, tables: Sequence[NoteTable]) -> Extract:
    """All rows that are not blank -> facts and tables; `tables` are those of the diary that may stand here. Raises
    Held when the rows do not add up.
    """
    refuse_formulas(lines)
    found = sections(lines, source, form, tables)
    if found.readings.header is None:
        raise Held(HoldReason.NO_MAP, "the header row was not found")
    facts = tuple(_fact(line, form) for line in found.facts)
    known = {folded(place.fact) for _, place in places(source) if place.fact is not None}
    known |= {fact.name for fact in facts if fact.name} | words_of(source.signs.facts)
    for body in (found.readings.body, *(each.body for each in found.diary)):
        _refuse_second_recording(body, known)
    _refuse_more_values(facts, source)
    readings = table(found.readings, [place for _, place in places(source.readings)])
    return Extract(
        facts=facts,
        columns=readings.columns,
        rows=readings.rows,
        tables=tuple(
            table(section, [place for _, place in places(declared)])
            for section, declared in zip(found.diary, tables, strict=True)
        ),
    )


def refuse_formulas(lines: Sequence[Line]) -> None:
    """Raises Held for a cell that a spreadsheet would run."""
    for row, cells in lines:
        if any(_is_formula(cell) for cell in cells):
            raise Held(HoldReason.FILE_HOSTILE, f"row {row} holds a formula")


def _is_formula(cell: str) -> bool:
    """Would a spreadsheet run this: a formula, a call, or a command in the style of name|argument!cell?"""
    command = "|" in cell and "!" in cell and cell.lstrip().startswith(("+", "-", "@"))
    return command or _FORMULA.match(cell) is not None


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


def table(section: Section, named: Sequence[Place]) -> Table:
    """A table by the names of its columns. Raises Held for a column that the map names and the header has twice."""
    if section.header is None:
        return Table((), ())
    row, cells = section.header
    columns = tuple(folded(cell) for cell in cells)
    for place in named:
        if place.column is not None and columns.count(folded(place.column)) > 1:
            raise Held(HoldReason.FACTS_DISAGREE, f"the header in row {row} has column '{place.column}' twice")
    return Table(columns, tuple(_row(line, columns) for line in section.body))


def _refuse_second_recording(body: Sequence[Line], known: set[str]) -> None:
    """A fact of the preamble below the table means that two recordings stand in one file."""
    for row, cells in body:
        if folded(cells[0]) in known:
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
