"""The time of a reading: in one column, in two, or a clock time with the first date above the table."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from gateway.drafting.moments import (
    CLOCK,
    DATE,
    TWO,
    Written,
    clock_pattern,
    date_patterns,
    decide,
    half_day,
    is_moment,
    seconds_of,
    wall,
)
from gateway.drafting.table import Table
from gateway.mapping.source_time import ISO, moment_expression

KEY = "readings.time"


@dataclass(frozen=True, slots=True, kw_only=True)
class Timed:
    """Where the times stand (as the map writes it), the evidence, and how many rows of the body have a time."""

    place: Mapping[str, object]
    evidence: str
    proven: bool
    rows: int
    date_pattern: str


Started = Sequence[tuple[Mapping[str, str], str]]
"""Place (as a map writes it) and text of what may be the date of the first reading."""


def of_table(table: Table, started: Started, now: datetime) -> Timed | None:
    """Where the times stand; None: no way to read them."""
    if "moment" in table.columns:
        return _in_one(table, now)
    if "date" in table.columns:
        return _in_two(table, now)
    return _clock_only(table, started, now)


def _in_one(table: Table, now: datetime) -> Timed | None:
    cells = [text for _, text in table.cells("moment")]
    rows = _last([is_moment(text) for text in cells])
    texts = [text for text in cells[:rows] if is_moment(text)]
    column = table.name("moment")
    gaps = _gaps(rows - len(texts))
    if all(moment_expression(ISO).fullmatch(text) and "-" in text[:5] for text in texts):
        said = _iso(texts, now)
        place = {"how": "instant", "column": column, "pattern": ISO}
        return _timed(place, [said], gaps, rows, "YYYY-MM-DD")
    parts = [found for text in texts if (found := TWO.fullmatch(text))]
    days, clocks = [each["date"] for each in parts], [each["clock"] for each in parts]
    joints = {each["joint"] for each in parts}
    clock = clock_pattern(clocks)
    if clock is None or len(joints) != 1 or len(parts) != len(texts):
        return None
    order = _order(days, clock, clocks, now)
    if order is None:
        return None
    place = {"how": "instant", "column": column, "pattern": f"{order.pattern}{joints.pop()}{clock}"}
    return _timed(place, [order, half_day(clock, clocks)], gaps, rows, order.pattern)


def _in_two(table: Table, now: datetime) -> Timed | None:
    pairs = [(day, clock) for (_, day), (_, clock) in zip(table.cells("date"), table.cells("time"), strict=True)]
    fits = [bool(DATE.fullmatch(day) and CLOCK.fullmatch(clock)) for day, clock in pairs]
    rows = _last(fits)
    good = [pair for pair, fit in zip(pairs[:rows], fits[:rows], strict=True) if fit]
    days, clocks = [day for day, _ in good], [clock for _, clock in good]
    clock = clock_pattern(clocks)
    order = None if clock is None else _order(days, clock, clocks, now)
    if clock is None or order is None:
        return None
    place = {
        "how": "date-and-time",
        "date": {"column": table.name("date"), "pattern": order.pattern},
        "time": {"column": table.name("time"), "pattern": clock},
    }
    return _timed(place, [order, half_day(clock, clocks)], _gaps(rows - len(good)), rows, order.pattern)


def _clock_only(table: Table, started: Started, now: datetime) -> Timed | None:
    cells = [text for _, text in table.cells("time")]
    rows = _last([CLOCK.fullmatch(text) is not None for text in cells])
    clocks = [text for text in cells[:rows] if CLOCK.fullmatch(text)]
    clock = clock_pattern(clocks)
    dated = [(where, text) for where, text in started if DATE.fullmatch(text)]
    if clock is None or not dated:
        return None
    where, day = dated[0]
    order = _order([day], None, [""], now)
    if order is None:
        return None
    place = {
        "how": "time-only",
        "time": {"column": table.name("time"), "pattern": clock},
        "starts_on": {**where, "pattern": order.pattern},
    }
    asked = Written(order.pattern, "is that the day of the first reading?", False)
    return _timed(place, [order, half_day(clock, clocks), asked], _gaps(rows - len(clocks)), rows, order.pattern)


def _order(days: Sequence[str], clock: str | None, clocks: Sequence[str], now: datetime) -> Written | None:
    patterns = date_patterns(days)
    if not patterns:
        return None
    shown = [
        (day, text)
        for day, text in zip(days, clocks, strict=True)
        if clock is None or seconds_of(clock, text) is not None
    ]
    return decide([(each, [wall(each, day, clock, text) for day, text in shown]) for each in patterns], now)


def _iso(texts: Sequence[str], now: datetime) -> Written:
    """ISO 8601 has one order and a clock of 24 hours; the times must still be those of a recording."""
    found = [found for text in texts if (found := moment_expression(ISO).fullmatch(text))]
    days = [f"{each['year']}-{each['month']}-{each['day']}" for each in found]
    clocks = [f"{each['hour']}:{each['minute']}" for each in found]
    order = _order(days, "hh:mm", clocks, now) or Written("YYYY-MM-DD", "", False)
    halves = half_day("hh:mm", clocks)
    firm = halves.proven or any("T" in text for text in texts)
    said = f"ISO 8601; {order.evidence}" + ("" if firm else f"; {halves.evidence}")
    return Written(ISO, said, order.proven and firm)


def _timed(place: Mapping[str, object], said: Sequence[Written], gaps: str, rows: int, date_pattern: str) -> Timed:
    evidence = "; ".join([each.evidence for each in said] + ([gaps] if gaps else []))
    return Timed(
        place=place,
        evidence=evidence,
        proven=all(each.proven for each in said) and not gaps,
        rows=rows,
        date_pattern=date_pattern,
    )


def _last(fits: Sequence[bool]) -> int:
    return max((at + 1 for at, fit in enumerate(fits) if fit), default=0)


def _gaps(count: int) -> str:
    return f"{count} rows within the table have no date and time of this form" if count else ""
