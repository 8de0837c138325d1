"""Cells -> wall-clock times, exactly as the file writes them and before anybody asks about zones."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta, timezone

from gateway.mapping.source_place import Clocked, DateAndTime, Dated, Instant, RowMoment, TimeOnly
from gateway.mapping.source_time import clock_expression, date_expression, moment_expression
from gateway.model import HoldReason
from gateway.read.extract import Extract, Located, Row, cell, seen
from gateway.read.held import Held
from gateway.read.values import calendar_day, seconds_of_day


@dataclass(frozen=True, slots=True)
class Wall:
    """Date and clock time as they stand in a row. `local` is naive; `offset` is there when the cell has one.

    `turned`: the date was advanced for this row because its clock time is less than that of the row before.
    """

    row: int
    local: datetime
    offset: timedelta | None = None
    turned: bool = False


class NoSuchTime(Exception):  # noqa: N818  (always handled: it costs one row)
    """A time of the right form that no clock shows, such as 24:20."""


def wall(where: Located, place: Instant) -> Wall:
    """Date and time in one cell. Raises Held for another form or an impossible date, NoSuchTime for 24:20."""
    found = moment_expression(place.pattern).fullmatch(seen(where.text))
    day = calendar_day(found) if found else None
    if found is None or day is None:
        raise _not_a_time(where)
    seconds = seconds_of_day(found)
    if seconds is None:
        raise NoSuchTime
    return Wall(where.row, at(day, seconds), _offset(found.groupdict().get("zone"), where))


def wall_of_two(day_cell: Located, time_cell: Located, place: DateAndTime) -> Wall:
    """Date and time in two cells. Raises as `wall` does."""
    day = _day(day_cell, place.date)
    return Wall(time_cell.row, at(day, _seconds(time_cell, place.time)))


def walls(rows: Sequence[Row], file: Extract, how: RowMoment) -> tuple[dict[int, Wall], tuple[int, ...]]:
    """Wall-clock time of each row by row number, and the rows refused because no clock shows such a time."""
    if isinstance(how, TimeOnly):
        return _dated(rows, file, how)
    found: dict[int, Wall] = {}
    refused: list[int] = []
    for row in rows:
        try:
            if isinstance(how, Instant):
                found[row.number] = wall(cell(row, how), how)
            else:
                found[row.number] = wall_of_two(_day_of(row, file, how.date), cell(row, how.time), how)
        except NoSuchTime:
            refused.append(row.number)
    return found, tuple(refused)


def _day_of(row: Row, file: Extract, place: Dated) -> Located:
    """The date beside the clock time: in the row, or one that holds for all rows."""
    if place.column is not None:
        return cell(row, place)
    dates = file.all_of(place)
    if len({where.text for where in dates}) != 1:
        raise Held(HoldReason.TIME_UNREADABLE, "the date of the readings is missing or stands there twice")
    return dates[0]


def at(day: date, seconds: int) -> datetime:
    """Naive local date and time."""
    return datetime.combine(day, time()) + timedelta(seconds=seconds)


def _dated(rows: Sequence[Row], file: Extract, how: TimeOnly) -> tuple[dict[int, Wall], tuple[int, ...]]:
    """Give clock times their dates: the date advances when the time falls. Whether more than one fall can be
    right (a clock change) is seen when they are placed in their zone.
    """
    dates = {where.text for where in file.all_of(how.starts_on)}
    if len(dates) != 1:
        raise Held(HoldReason.TIME_UNREADABLE, "the date of the first reading is missing or stands there twice")
    day = _day(file.all_of(how.starts_on)[0], how.starts_on)
    found: dict[int, Wall] = {}
    refused: list[int] = []
    last: int | None = None
    for row in rows:
        try:
            seconds = _seconds(cell(row, how.time), how.time)
        except NoSuchTime:
            refused.append(row.number)
            continue
        fell = last is not None and seconds < last
        if fell:
            day += timedelta(days=1)
        found[row.number] = Wall(row.number, at(day, seconds), turned=fell)
        last = seconds
    return found, tuple(refused)


def one_day_less(wall: Wall) -> Wall:
    """The same row a day earlier: its time had not fallen because of midnight."""
    return replace(wall, local=wall.local - timedelta(days=1), turned=False)


def _day(where: Located, place: Dated) -> date:
    found = date_expression(place.pattern).fullmatch(seen(where.text))
    day = calendar_day(found) if found else None
    if day is None:
        raise _not_a_time(where)
    return day


def _seconds(where: Located, place: Clocked) -> int:
    found = clock_expression(place.pattern).fullmatch(seen(where.text))
    if found is None:
        raise _not_a_time(where)
    seconds = seconds_of_day(found)
    if seconds is None:
        raise NoSuchTime
    return seconds


def _not_a_time(where: Located) -> Held:
    return Held(HoldReason.TIME_UNREADABLE, f"row {where.row}")


def _offset(zone: str | None, where: Located) -> timedelta | None:
    if zone is None:
        return None
    if zone in "Zz":
        return timedelta(0)
    hours, minutes = int(zone[1:3]), int(zone[3:].lstrip(":") or 0)
    if minutes >= 60 or hours > 14:  # civil offsets run from -12:00 to +14:00
        raise _not_a_time(where)
    return (-1 if zone[0] == "-" else 1) * timedelta(hours=hours, minutes=minutes)


def fixed(offset: timedelta) -> timezone:
    """A zone that is nothing but an offset."""
    return UTC if not offset else timezone(offset)
