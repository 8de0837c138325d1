"""Where a value stands in an export, and the closed list of what it may be turned into."""

from typing import Annotated, Generic, Literal, Self, TypeVar

from pydantic import Field, model_validator

from gateway.mapping.parse import Declared
from gateway.mapping.source_time import ClockPattern, DatePattern, MomentPattern

Meaning = TypeVar("Meaning")


class Place(Declared):
    """Exactly one of: a `column` of the table, a `fact` outside it (its `part`-th value), a part of the `file_name`,
    a `constant`.
    """

    column: str | None = Field(default=None, min_length=1)
    fact: str | None = Field(default=None, min_length=1)
    part: int = Field(default=1, ge=1, le=20)
    file_name: str | None = Field(default=None, min_length=1)
    constant: str | None = Field(default=None, min_length=1)

    @model_validator(mode="after")
    def _one(self) -> Self:
        if sum(where is not None for where in (self.column, self.fact, self.file_name, self.constant)) != 1:
            raise ValueError("give exactly one of column, fact, file_name, constant")
        if self.fact is None and self.part != 1:
            raise ValueError("part belongs to a fact")
        return self

    @property
    def paths(self) -> tuple[tuple[str, str], ...]:
        """The column or fact with the key that names it; nothing for a constant or a part of the file name."""
        return tuple((key, name) for key, name in (("column", self.column), ("fact", self.fact)) if name is not None)


class Text(Place):
    """Text as it stands, blanks around it removed."""


class PersonNumber(Text):
    """The number of a person, text all the way. `digits` is its fixed length: only with it a cell that holds a
    number, and so has lost the zeros before it, is filled up again; without it such a file is held.
    """

    digits: int | None = Field(default=None, ge=1, le=30)


class Number(Place):
    """A plain number. `decimal` is the decimal mark, where it differs from that of the whole file."""

    decimal: Literal[".", ","] | None = None


class Coded(Place, Generic[Meaning]):
    """A code with its meaning. `empty` is what an empty cell means; without it, an empty cell says nothing.

    A code that is not listed holds the file: it may mean anything.
    """

    codes: dict[str, Meaning] = Field(min_length=1)
    empty: Meaning | None = None


class Dated(Place):
    """A calendar date."""

    pattern: DatePattern


class Clocked(Place):
    """A clock time of the day."""

    pattern: ClockPattern


class Instant(Place):
    """Date and clock time in one place; an offset in it is honoured."""

    how: Literal["instant"]
    pattern: MomentPattern


class DateAndTime(Declared):
    """Date and clock time in two places."""

    how: Literal["date-and-time"]
    date: Dated
    time: Clocked


class TimeOnly(Declared):
    """Only clock times, and the date of the first one elsewhere. The date advances once, when the time falls."""

    how: Literal["time-only"]
    time: Clocked
    starts_on: Dated


RowMoment = Annotated[Instant | DateAndTime | TimeOnly, Field(discriminator="how")]
FactMoment = Annotated[Instant | DateAndTime, Field(discriminator="how")]


class Status(Place):
    """Did the attempt give a pressure? By code, never by guess.

    `measured` and `failed` list the codes. `others`: what a code in neither list means, `hold` unless the map says
    that every other word is a failure. `empty`: `by-pressures` (measured when pressures stand beside it) or
    `failed`. `diary` are codes of rows that hold no attempt at all, only what the person wrote down at that time.
    """

    measured: tuple[str, ...] = Field(min_length=1)
    failed: tuple[str, ...] = ()
    diary: tuple[str, ...] = ()
    others: Literal["failed", "hold"] = "hold"
    empty: Literal["by-pressures", "failed"] = "by-pressures"

    @model_validator(mode="after")
    def _apart(self) -> Self:
        codes = [code.casefold() for code in (*self.measured, *self.failed, *self.diary)]
        if both := {code for code in codes if codes.count(code) > 1}:
            raise ValueError(f"{', '.join(sorted(both))}: a code is either measured or failed or diary")
        return self


class SleepMark(Coded[bool]):
    """A mark beside each reading. Only a `diary` mark is the person's sleep; a `programme` mark is only the
    schedule of the monitor and is not taken for sleep.
    """

    means: Literal["diary", "programme"]


class UnitPlace(Coded[Literal["mmHg", "kPa"]]):
    """The file itself says in which unit its pressures are."""


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
