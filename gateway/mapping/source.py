"""A source map: what one kind of export looks like and what its cells mean, as data.

Each part of a recording names the place of its value and the one way it may be read. Nothing is guessed: what the
map does not say is not read, and a value that does not fit what the map says is a visible failure or a hold.
"""

from typing import Literal, Self

from pydantic import Field, model_validator

from gateway.mapping.parse import Declared
from gateway.mapping.source_format import Fhir, Format, Hl7, Json, Xml
from gateway.mapping.source_place import (
    Clocked,
    Coded,
    Dated,
    FactMoment,
    Number,
    PersonNumber,
    Place,
    RowMoment,
    SleepMark,
    Status,
    Text,
    UnitPlace,
)
from gateway.model import Arm, Kind, Sex

COMMON_MARKS = ("0", "255", "999", "-*", "E*", "n/a", "nan", "null")
"""Marks for "no value" that monitors write where a number should be (common practice). `*` stands for anything."""


class Signs(Declared):
    """By which signs a file is known to be of this kind; all of them must be there.

    `columns`: words of the header row, which is the first row that holds them all. `facts`: names that stand in
    the preamble. `name`: pattern of the file name, `*` stands for anything.
    """

    columns: tuple[str, ...] = Field(min_length=1)
    facts: tuple[str, ...] = ()
    name: str = "*"


class PersonPlaces(Declared):
    """Whose recording it is. `no_identifier` lists further words that stand for "no number"."""

    identifier: PersonNumber
    identifier_system: Text | None = None
    no_identifier: tuple[str, ...] = ()
    family_name: Text | None = None
    given_name: Text | None = None
    birth_date: Dated | None = None
    sex: Coded[Sex] | None = None


class MonitorPlaces(Declared):
    """The monitor and how it was fitted; arm circumference in centimetres."""

    model: Text | None = None
    serial: Text | None = None
    cuff_size: Text | None = None
    arm_circumference: Number | None = None
    arm: Coded[Arm] | None = None


class SchedulePlaces(Declared):
    """The programme: intervals in minutes, planned length in hours, local clock times."""

    interval_day: Number | None = None
    interval_night: Number | None = None
    day_from: Clocked | None = None
    night_from: Clocked | None = None
    planned: Number | None = None
    fitted_at: FactMoment | None = None
    removed_at: FactMoment | None = None


class CircumstancePlaces(Declared):
    """Facts that change how the numbers may be read. Clinic pressures are in the unit of the readings."""

    order: Text | None = None
    indication: Text | None = None
    treated: Coded[bool] | None = None
    pregnancy_weeks: Number | None = None
    irregular_pulse: Coded[bool] | None = None
    clinic_systolic: Number | None = None
    clinic_diastolic: Number | None = None


class SleepPlaces(Declared):
    """One span of sleep; facts that stand several times give several spans."""

    fell_asleep: FactMoment
    woke: FactMoment


class DiaryPlaces(Declared):
    """What the person wrote down."""

    asleep: tuple[SleepPlaces, ...] = ()


class ReadingPlaces(Declared):
    """One attempt per row. `marks`: text where a number should be that means "no value"."""

    time: RowMoment
    unit: Literal["mmHg", "kPa"] | UnitPlace
    systolic: Number
    diastolic: Number
    mean: Number | None = None
    heart_rate: Number | None = None
    marks: tuple[str, ...] = COMMON_MARKS
    status: Status | None = None
    kind: Coded[Kind] | None = None
    irregular: Coded[bool] | None = None
    asleep_mark: SleepMark | None = None
    note: Text | None = None


class SourceMap(Declared):
    """One kind of export.

    `site` and `timezone` say which site and which IANA zone the file names, if it does; a file that is silent is
    read in the zone of the site's settings. A `draft` claims no file until a person has looked at every line and
    removed the key; only `mapping try` reads by it. `kept` are facts that are kept as they stand;
    `ignored` are facts and columns that are known and not needed. Anything else in the file is reported as not
    known to the map.
    """

    name: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    version: str = Field(min_length=1)
    title: str = Field(min_length=3)
    draft: bool = False
    signs: Signs
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
            if place.column is not None and not part.startswith("readings."):
                raise ValueError(f"{part}: a column belongs to one reading; use fact or constant")
        if isinstance(self.format, Xml | Json):
            self._paths(self.format)
        if isinstance(self.format, Hl7 | Fhir):
            self._fields(self.format)
        for part in ("systolic", "diastolic"):
            if getattr(self.readings, part).column is None:
                raise ValueError(f"readings.{part}: a pressure stands in a column")
        return self

    def _fields(self, form: Hl7 | Fhir) -> None:
        """Every observation says its unit, so the map must take it from there."""
        if isinstance(self.readings.unit, str) or self.readings.unit.fact != "unit":
            raise ValueError("readings.unit: the file states it; write { fact = 'unit', codes = { ... } }")
        facts = [place.fact for _, place in places(self) if place.fact is not None]
        for path in (*facts, *self.signs.facts, *self.kept):
            if fault := form.fault(path):
                raise ValueError(fault)

    def _paths(self, form: Xml | Json) -> None:
        named = [(f"{part}.{key}", path) for part, place in places(self) for key, path in place.paths]
        signs = (*self.signs.columns, *self.signs.facts, *self.kept, form.rows)
        seen: dict[str, str] = {}
        for part, path in (*named, *(("signs, kept or rows", path) for path in signs)):
            if fault := form.fault(path):
                raise ValueError(f"{part}: {fault}")
            if seen.setdefault(path.casefold(), path) != path:
                raise ValueError(f"{part}: '{path}' and '{seen[path.casefold()]}' differ only in capitals")
        if many := [part for part, place in places(self) if place.part != 1]:
            raise ValueError(f"{many[0]}: part counts cells; a path has one value")


def places(source: Declared, within: str = "") -> tuple[tuple[str, Place], ...]:
    """Every place that a map names, with the path of the key that names it, in the order of the model."""
    found: list[tuple[str, Place]] = []
    for key in type(source).model_fields:
        value = getattr(source, key)
        for number, item in enumerate(value if isinstance(value, tuple) else (value,)):
            path = f"{within}{key}" + (f".{number}" if isinstance(value, tuple) else "")
            if isinstance(item, Place):
                found.append((path, item))
            elif isinstance(item, Declared):
                found.extend(places(item, f"{path}."))
    return tuple(found)
