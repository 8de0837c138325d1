"""Facts of the preamble by the places of the map: one value, or a hold when the file says two different things."""

from collections.abc import Sequence
from datetime import date, datetime, time
from typing import Literal

from gateway.mapping.source import SourceMap
from gateway.mapping.source_place import Clocked, Coded, DateAndTime, Dated, Instant, Number, Place, Text
from gateway.model import HoldReason, Tenths
from gateway.read import values
from gateway.read.extract import Extract, Located, seen
from gateway.read.held import Held
from gateway.read.moment import NoSuchTime, wall, wall_of_two
from gateway.read.values import Mark, Unreadable, unreadable
from gateway.read.zone import Zoning, instant


def one(part: str, file: Extract, place: Place) -> Located:
    """The only value of a fact; blank when it is not there. Raises Held when it stands there with two values."""
    found = [where for where in file.all_of(place) if seen(where.text)]
    if len({where.text for where in found}) > 1:
        raise Held(HoldReason.FACTS_DISAGREE, f"{part}, rows {found[0].row} and {found[1].row}")
    return found[0] if found else Located(0, "")


def text(part: str, file: Extract, place: Text | None) -> str | None:
    """Text of a fact."""
    return None if place is None else values.text(part, one(part, file, place))


def coded(part: str, file: Extract, place: Coded[values.Meaning] | None) -> values.Meaning | None:
    """Meaning of a coded fact."""
    return None if place is None else values.coded(part, one(part, file, place), place)


def whole(part: str, file: Extract, place: Number | None, source: SourceMap) -> int | None:
    """Positive whole number of a fact."""
    if place is None:
        return None
    return values.whole(part, one(part, file, place), place.decimal or source.format.decimal)


def pressure(
    part: str, file: Extract, place: Number | None, source: SourceMap, unit: Literal["mmHg", "kPa"]
) -> Tenths | None:
    """A pressure in the preamble, None when blank or marked as "no value"."""
    if place is None:
        return None
    where = one(part, file, place)
    value = values.measured(where.text, place.decimal or source.format.decimal, source.readings.marks, unit)
    if isinstance(value, Unreadable):
        raise unreadable(part, where)
    return None if isinstance(value, Mark) else value


def moments(
    part: str, file: Extract, place: Instant | DateAndTime, where: Zoning, remarks: list[str]
) -> tuple[datetime | None, ...]:
    """Every occurrence of a date and time, None for a blank one. Raises Held for an unreadable one."""
    return tuple(moment_at(part, each, place, where, remarks) for each in occurrences(part, file, place))


def occurrences(part: str, file: Extract, place: Instant | DateAndTime) -> Sequence[tuple[Located, ...]]:
    """The cells of every occurrence of a date and time: one cell, or date and clock. Raises Held."""
    if isinstance(place, Instant):
        return [(each,) for each in file.all_of(place)]
    days, times = file.all_of(place.date), file.all_of(place.time)
    if place.date.fact is None:  # one day for every time
        days = days * len(times)
    if len(days) != len(times):
        raise Held(HoldReason.TIME_UNREADABLE, part)
    return list(zip(days, times, strict=True))


def moment(
    part: str, file: Extract, place: Instant | DateAndTime | None, where: Zoning, remarks: list[str]
) -> datetime | None:
    """The only date and time of a fact, None when it is not there. Raises Held when there are two."""
    found = [] if place is None else [each for each in moments(part, file, place, where, remarks) if each is not None]
    if len(set(found)) > 1:
        raise Held(HoldReason.FACTS_DISAGREE, part)
    return found[0] if found else None


def moment_at(
    part: str, cells: Sequence[Located], place: Instant | DateAndTime, where: Zoning, remarks: list[str]
) -> datetime | None:
    """One date and time, None when its cells are blank. Raises Held."""
    told = cells[1:] if isinstance(place, DateAndTime) and place.date.fact is None else cells
    if not any(seen(each.text) for each in told):
        return None
    try:
        found = wall(cells[0], place) if isinstance(place, Instant) else wall_of_two(cells[0], cells[1], place)
    except NoSuchTime:
        raise Held(HoldReason.TIME_UNREADABLE, f"{part}, row {cells[0].row}") from None
    return instant(found, where, remarks)


def clock(part: str, file: Extract, place: Clocked | None) -> time | None:
    """Local clock time of a fact."""
    return None if place is None else values.clock(part, one(part, file, place), place)


def day(part: str, file: Extract, place: Dated | None) -> date | None:
    """Calendar date of a fact."""
    return None if place is None else values.day(part, one(part, file, place), place)
