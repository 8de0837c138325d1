"""A source map: what one kind of export looks like and what its cells mean, as data.

Each part of a recording names the place of its value and the one way it may be read. Nothing is guessed: what the
map does not say is not read, and a value that does not fit what the map says is a visible failure or a hold.
"""

from typing import Self

from pydantic import Field, model_validator

from gateway.mapping.parse import Declared
from gateway.mapping.source_format import Fhir, Format, Grid, Hl7, Json, Workbook, Xml
from gateway.mapping.source_name import NamePattern, facts
from gateway.mapping.source_parts import (
    COMMON_MARKS,
    CircumstancePlaces,
    DiaryPlaces,
    MonitorPlaces,
    PersonPlaces,
    ReadingPlaces,
    SchedulePlaces,
    Signs,
)
from gateway.mapping.source_place import Place, Text, places

__all__ = ["COMMON_MARKS", "SourceMap", "places"]


_ONCE = ("readings.unit", ".starts_on", ".date")
"""what may be said once for all rows of a table"""


class SourceMap(Declared):
    """One kind of export.

    `site` and `timezone` say which site and which IANA zone the file names, if it does; a file that is silent is
    read in the zone of the site's settings. A `draft` claims no file until a person has looked at every line and
    removed the key; only `mapping try` reads by it. `file_name` is a
    pattern of the file's name with the facts in it. `kept` are facts that are kept as they stand;
    `ignored` are facts and columns that are known and not needed. Anything else in the file is reported as not
    known to the map.
    """

    name: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    version: str = Field(min_length=1)
    title: str = Field(min_length=3)
    draft: bool = False
    signs: Signs
    file_name: NamePattern | None = None
    format: Format
    site: Text | None = None
    timezone: Text | None = None
    kept: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()
    person: PersonPlaces
    monitor: MonitorPlaces = MonitorPlaces()
    schedule: SchedulePlaces = SchedulePlaces()
    circumstances: CircumstancePlaces = CircumstancePlaces()
    diary: DiaryPlaces = DiaryPlaces()
    readings: ReadingPlaces

    @model_validator(mode="after")
    def _fits(self) -> Self:
        for part, place in places(self):
            if place.column is not None and not part.startswith(("readings.", "diary.tables.")):
                raise ValueError(f"{part}: a column belongs to one reading; use fact or constant")
            rows = part.startswith(("readings.", "diary.tables."))
            if rows and place.column is None and place.constant is None and not part.endswith(_ONCE):
                raise ValueError(f"{part}: each row has its own; use column or constant")
            self._named(part, place)
        self._tables()
        if isinstance(self.format, Xml | Json):
            self._paths(self.format)
        if isinstance(self.format, Hl7 | Fhir):
            self._fields(self.format)
        for part in ("systolic", "diastolic"):
            if getattr(self.readings, part).column is None:
                raise ValueError(f"readings.{part}: a pressure stands in a column")
        return self

    def _named(self, part: str, place: Place) -> None:
        if place.file_name is None:
            return
        known = facts(self.file_name) if self.file_name else ()
        if place.file_name.casefold() not in {name.casefold() for name in known}:
            raise ValueError(f"{part}: the pattern file_name at the top of the map has no {{{place.file_name}}}")

    def _tables(self) -> None:
        """Tables and cells of their own are a matter of rows of cells; other forms have paths and codes."""
        if not isinstance(self.format, Grid) and (self.diary.tables or self.signs.cells):
            raise ValueError("diary.tables and signs.cells: only in delimited text, fixed width and workbooks")
        if not isinstance(self.format, Workbook) and any(table.sheet is not None for table in self.diary.tables):
            raise ValueError("diary.tables: only a workbook has sheets")

    def _fields(self, form: Hl7 | Fhir) -> None:
        """Every observation says its unit, so the map must take it from there."""
        if isinstance(self.readings.unit, str) or self.readings.unit.fact != "unit":
            raise ValueError("readings.unit: the file states it; write { fact = 'unit', codes = { ... } }")
        named = [place.fact for _, place in places(self) if place.fact is not None]
        for path in (*named, *self.signs.facts, *self.kept):
            if fault := form.fault(path):
                raise ValueError(fault)

    def _paths(self, form: Xml | Json) -> None:
        named = [(f"{part}.{key}", path) for part, place in places(self) for key, path in place.paths]
        at_top = isinstance(form, Json) and not form.rows  # the document itself is the list
        signs = (*self.signs.columns, *self.signs.facts, *self.kept, *(() if at_top else (form.rows,)))
        seen: dict[str, str] = {}
        for part, path in (*named, *(("signs, kept or rows", path) for path in signs)):
            if fault := form.fault(path):
                raise ValueError(f"{part}: {fault}")
            if seen.setdefault(path.casefold(), path) != path:
                raise ValueError(f"{part}: '{path}' and '{seen[path.casefold()]}' differ only in capitals")
        if many := [part for part, place in places(self) if place.part != 1]:
            raise ValueError(f"{many[0]}: part counts cells; a path has one value")
