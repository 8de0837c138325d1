"""Rows of cells -> facts, the table of readings, tables of the diary: where each begins and ends."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from gateway.mapping.source import SourceMap
from gateway.mapping.source_format import Grid
from gateway.mapping.source_parts import NoteTable
from gateway.model import HoldReason
from gateway.read.extract import folded
from gateway.read.held import Held

Line = tuple[int, list[str]]
"""First line of a row in the file, and its cells."""


@dataclass(slots=True)
class Section:
    """A table: its header row, None when the file has no such table, and the rows below it."""

    header: Line | None = None
    body: list[Line] = field(default_factory=list)


@dataclass(slots=True)
class Sections:
    """Rows of facts, the readings, and one section for each table of the diary on this sheet."""

    facts: list[Line]
    readings: Section
    diary: list[Section]


def sections(lines: Sequence[Line], source: SourceMap, form: Grid, tables: Sequence[NoteTable]) -> Sections:
    """Each row goes where the last header, or the last row that begins facts again, sends it. Raises Held for a
    header that comes a second time: two recordings would stand in one file.
    """
    found = Sections([], Section(), [Section() for _ in tables])
    headers = [(words_of(source.signs.columns), found.readings)]
    headers += [(words_of(table.header), each) for table, each in zip(tables, found.diary, strict=True)]
    ends, again = words_of(form.ends), words_of(form.facts_again)
    to: list[Line] | None = found.facts
    for line in lines:
        said = words_of(line[1])
        table = next((each for words, each in headers if words <= said), None)
        if table is not None:
            if table.header is not None:
                raise Held(HoldReason.FACTS_DISAGREE, f"a second recording seems to begin in row {line[0]}")
            table.header, to = line, table.body
        elif folded(line[1][0]) in again:
            to = found.facts
        elif folded(line[1][0]) in ends and to is not found.facts:
            to = None
        elif to is not None:
            to.append(line)
    return found


def words_of(cells: Sequence[str]) -> set[str]:
    """Words as they are compared."""
    return {folded(cell) for cell in cells}


def header_at(lines: Sequence[Line], words: Sequence[str]) -> int | None:
    """Index of the first row that holds all the words, None if there is none."""
    wanted = words_of(words)
    return next((at for at, (_, cells) in enumerate(lines) if wanted <= words_of(cells)), None)
