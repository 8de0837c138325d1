"""The parts of a source map: which values each part of a recording has, and what each of them may be."""

from typing import Annotated, Literal

from pydantic import Field

from gateway.mapping.parse import Declared
from gateway.mapping.source_place import (
    Clocked,
    Coded,
    Dated,
    FactMoment,
    Number,
    PersonNumber,
    RowMoment,
    SleepMark,
    Status,
    Text,
    UnitPlace,
)
from gateway.model import Arm, Kind, NoteKind, Sex

COMMON_MARKS = ("0", "255", "999", "-*", "E*", "n/a", "nan", "null")
"""Marks for "no value" that monitors write where a number should be (common practice). `*` stands for anything."""


class CellSign(Declared):
    """A cell that always holds the same text (`*` stands for anything); row and column count from 1."""

    row: int = Field(ge=1, le=5000)
    column: int = Field(default=1, ge=1, le=200)
    text: str = Field(min_length=1)


class Signs(Declared):
    """By which signs a file is known to be of this kind; all of them must be there.

    `columns`: words of the header row, which is the first row that holds them all. `facts`: names that stand in
    the preamble. `cells`: cells that always hold the same text. `name`: pattern of the file name, `*` stands for
    anything.
    """

    columns: tuple[str, ...] = Field(min_length=1)
    facts: tuple[str, ...] = ()
    cells: tuple[CellSign, ...] = ()
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


class NoteWords(Text):
    """What a diary entry says. `words` puts plain words in the place of codes ("2" -> "standing"); what is not
    listed stays as it stands.
    """

    words: dict[str, str] = Field(default_factory=dict)


class RowNote(NoteWords):
    """A column beside each reading that the person's diary fills. It says when by the time of the reading."""

    kind: NoteKind


class KindPlace(Coded[NoteKind]):
    """The file itself says what a diary entry is about."""


class NotePlaces(Declared):
    """Diary entries above the table: facts that stand several times give several entries."""

    at: FactMoment
    kind: NoteKind | KindPlace
    text: NoteWords


class NoteTable(Declared):
    """A table of diary entries, one a row, beside the table of readings. `header`: words of its header row, the
    first row that holds them all. `sheet` is its sheet in a workbook, unless it is that of the readings.
    """

    header: tuple[str, ...] = Field(min_length=1)
    sheet: str | Annotated[int, Field(ge=1, le=200)] | None = None
    at: RowMoment
    kind: NoteKind | KindPlace
    text: NoteWords


class DiaryPlaces(Declared):
    """What the person wrote down: sleep, and entries about medication, posture, symptoms or anything else, as facts
    or in tables of their own.
    """

    asleep: tuple[SleepPlaces, ...] = ()
    notes: tuple[NotePlaces, ...] = ()
    tables: tuple[NoteTable, ...] = ()


class ReadingPlaces(Declared):
    """One attempt per row. `marks`: text where a number should be that means "no value". `note` is a remark on the
    reading itself, `diary` what the person wrote down at that time.
    """

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
    diary: tuple[RowNote, ...] = ()
