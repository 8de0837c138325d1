"""What every outer form of export becomes before its meaning is read: named facts and rows of named cells."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from gateway.mapping.source_place import Place

_INVISIBLE = re.compile("[\u00ad\u200b-\u200f\u202a-\u202e\u2060-\u2064\u2066-\u2069\ufeff]")


def seen(text: str) -> str:
    """The text without invisible characters and without blanks around it."""
    return text.strip() if text.isascii() else _INVISIBLE.sub("", text).strip()


def folded(name: str) -> str:
    """A name as names are compared: no invisible characters, single blanks, no difference of case."""
    plain = name if name.isascii() else _INVISIBLE.sub("", name)
    return " ".join(plain.split()).casefold()


@lru_cache(maxsize=4096)
def key(name: str) -> str:
    """`folded` for the names that a map uses, of which there are few. Never for what stands in a file."""
    return folded(name)


class Figure(str):
    """A cell that held a number, written out: whatever zeros stood before it are lost."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Fact:
    """One row of the preamble. `name` is folded; `values` are its cells without empty ones at the end."""

    row: int
    name: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table: its 1-based line in the file and its cells by folded column name."""

    number: int
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """A table beside that of the readings. `columns` are folded, empty when the file has no such table."""

    columns: tuple[str, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Located:
    """A text and the row where it stands (0 for a constant of the map or a part of the file name)."""

    row: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Extract:
    """Everything that stands in a file, still as text. `columns` are folded, in the order of the file.

    `apart` are numbers of rows that hold no attempt, only entries of the diary. `tables` are those of the diary, in
    the order of the map. `named` is what the file name says, by folded names.
    """

    facts: tuple[Fact, ...]
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    remarks: tuple[str, ...] = ()
    apart: frozenset[int] = frozenset()
    tables: tuple[Table, ...] = ()
    named: Mapping[str, str] = field(default_factory=dict)

    def all_of(self, place: Place) -> tuple[Located, ...]:
        """Every occurrence of a fact (blank ones too), or the part of the file name, or the constant."""
        if place.file_name is not None:
            return (Located(0, self.named.get(key(place.file_name), "")),)
        if place.fact is None:
            return (Located(0, place.constant or ""),)
        name = key(place.fact)
        return tuple(
            Located(fact.row, fact.values[place.part - 1] if len(fact.values) >= place.part else "")
            for fact in self.facts
            if fact.name == name
        )


def cell(row: Row, place: Place) -> Located:
    """The cell of a row; a column that the file does not have is an empty cell. A constant is the same in each."""
    if place.column is None:
        return Located(row.number, place.constant or "")
    return Located(row.number, row.cells.get(key(place.column), ""))
