"""Rows of the table -> attempts in the order of the file."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from gateway.mapping.source import SourceMap
from gateway.mapping.source_place import Coded, Number, Status
from gateway.model import HoldReason, Kind, Outcome, Reading, Tenths
from gateway.read import values
from gateway.read.extract import Row, cell, folded, key
from gateway.read.held import Held, rows_named
from gateway.read.values import Mark, Unreadable, unreadable

Unit = Literal["mmHg", "kPa"]
Cell = Tenths | Mark | Unreadable | None

MOST_SYSTOLIC = Tenths(3000)
"""Above it a number that serves as a mark is no pressure (common practice)."""


@dataclass(slots=True)
class Doubts:
    """Rows with a value that is neither a number nor a declared mark."""

    unreadable: list[int] = field(default_factory=list)

    def settle(self, rows: int) -> list[str]:
        """Remarks about single rows. Raises Held when it is not a matter of single rows any more."""
        if not self.unreadable:
            return []
        named = rows_named(self.unreadable)
        if too_many(len(self.unreadable), rows):
            raise Held(HoldReason.VALUE_UNREADABLE, f"pressures or heart rates, {named}")
        return [f"{named}: a value is neither a number nor a known mark; it was not used"]


def too_many(doubtful: int, rows: int) -> bool:
    """Single slips cost their own rows; three and more than one row in ten mean that the map does not fit."""
    return doubtful == rows or (doubtful >= 3 and 10 * doubtful > rows)


def reading(row: Row, at: datetime, source: SourceMap, unit: Unit, doubts: Doubts) -> Reading:
    """One attempt. Raises Held for a code that the map does not list."""
    places = source.readings
    pressures = [*_pair(row, source, unit), _measured(row, places.mean, source, unit)]
    rate = _measured(row, places.heart_rate, source, None)
    if any(isinstance(value, Unreadable) for value in (*pressures, rate)):
        doubts.unreadable.append(row.number)
    outcome, failure = _outcome(row, places.status, pressures[:2], rate)
    good = outcome is Outcome.MEASURED
    systolic, diastolic, mean = (value if good else None for value in map(_number, pressures))
    return Reading(
        row=row.number,
        at=at,
        outcome=outcome,
        systolic=systolic,
        diastolic=diastolic,
        mean=mean,
        heart_rate=_number(rate) if good else None,
        kind=_code(row, "readings.kind", places.kind) or Kind.SCHEDULED,
        failure=failure,
        irregular=_code(row, "readings.irregular", places.irregular),
        asleep_mark=_sleep_mark(row, source),
        note=values.text("readings.note", cell(row, places.note)) if places.note else None,
        raw=_raw(row, unit),
    )


def repeats(row: Row, source: SourceMap) -> bool:
    """Does the row say that it repeats an attempt? Raises Held for a code that the map does not list."""
    return _code(row, "readings.kind", source.readings.kind) is Kind.REPEAT


def is_entry(row: Row, source: SourceMap) -> bool:
    """Does the row say that it holds no attempt, only an entry of the diary?"""
    status = source.readings.status
    return status is not None and folded(cell(row, status).text) in {key(code) for code in status.diary}


def _measured(row: Row, place: Number | None, source: SourceMap, unit: Unit | None) -> Cell:
    if place is None:
        return None
    raw = cell(row, place).text
    return values.measured(raw, place.decimal or source.format.decimal, source.readings.marks, unit)


def _pair(row: Row, source: SourceMap, unit: Unit) -> tuple[Cell, Cell]:
    """Systolic and diastolic pressure. A number that serves as a mark (255) and may be the systolic pressure beside
    a real diastolic one is that pressure: else a crisis would look like a failed attempt and nobody would review it.
    """
    place = source.readings.systolic
    systolic, diastolic = (_measured(row, each, source, unit) for each in (place, source.readings.diastolic))
    if isinstance(systolic, Mark) and isinstance(diastolic, int):
        meant = values.measured(systolic.raw, place.decimal or source.format.decimal, (), unit)
        if isinstance(meant, int) and diastolic < meant <= MOST_SYSTOLIC:
            return meant, diastolic
    return systolic, diastolic


def _number(value: Cell) -> Tenths | None:
    return None if isinstance(value, Mark | Unreadable) else value


def _outcome(row: Row, status: Status | None, pressures: Sequence[Cell], rate: Cell) -> tuple[Outcome, str | None]:
    """Measured needs a pressure and no word or mark against it. One pressure that is blank beside one that stands
    there stays measured and incomplete: what is there is kept, and validation lets it count in no mean.
    """
    said, word = _said(row, status)
    if said is Outcome.FAILED:
        return Outcome.FAILED, word
    for value in pressures:
        if isinstance(value, Mark | Unreadable):
            return Outcome.FAILED, value.raw
    if all(value is None for value in pressures):
        return Outcome.FAILED, rate.raw if isinstance(rate, Mark | Unreadable) else None
    return Outcome.MEASURED, None


def _said(row: Row, status: Status | None) -> tuple[Outcome | None, str | None]:
    """What the status cell says, None when it says nothing."""
    if status is None:
        return None, None
    where = cell(row, status)
    word = folded(where.text)
    if not word:
        return (Outcome.FAILED if status.empty == "failed" else None), None
    if word in {key(code) for code in status.measured}:
        return Outcome.MEASURED, None
    if status.others == "failed" or word in {key(code) for code in status.failed}:
        return Outcome.FAILED, values.text("readings.status", where)
    raise unreadable("readings.status", where)


def _code(row: Row, part: str, place: Coded[values.Meaning] | None) -> values.Meaning | None:
    return None if place is None else values.coded(part, cell(row, place), place)


def _sleep_mark(row: Row, source: SourceMap) -> bool | None:
    place = source.readings.asleep_mark
    if place is None or place.means == "programme":
        return None
    return values.coded("readings.asleep_mark", cell(row, place), place)


def _raw(row: Row, unit: Unit) -> tuple[tuple[str, str], ...]:
    cells = tuple((name, text) for name, text in row.cells.items() if text)
    return (*cells, ("unit", unit)) if unit == "kPa" else cells


def refuse_other_unit(found: Sequence[Reading], unit: Unit) -> None:
    """No person's systolic pressure lies below 40 or above 320 mmHg most of the day: then the unit is not the one
    that was stated (17 is kPa called mmHg; 980 is mmHg called kPa). Own rule, a net below the limits. Raises Held.
    """
    systolic = [each.systolic for each in found if each.systolic is not None]
    low = sum(value < 400 for value in systolic)
    high = sum(value > 3200 for value in systolic)
    if 2 * max(low, high) > len(systolic) > 0:
        raise Held(HoldReason.UNITS_DOUBTFUL, f"stated is {unit}")
