"""One file -> one Recording, or a Hold. The order of the steps is the order of this file."""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from gateway.mapping.site import SiteDefaults
from gateway.mapping.source import SourceMap, places
from gateway.mapping.source_name import taken
from gateway.model import Hold, HoldReason, Reading, Recording, Source
from gateway.read import around, preamble, values, who
from gateway.read.claim import claimed_by
from gateway.read.diary import diary
from gateway.read.extract import Extract, Row, folded, key
from gateway.read.forms import FORMS
from gateway.read.held import Held, rows_named
from gateway.read.moment import Wall, walls
from gateway.read.opened import Opened
from gateway.read.readings import Doubts, Unit, is_entry, reading, refuse_other_unit, repeats, too_many
from gateway.read.zone import Zoning, instants, zoning


def read(content: bytes, name: str, maps: Sequence[SourceMap], defaults: SiteDefaults) -> Recording | Hold:
    """Read one export by the one map that claims it. `name` is the file's name without its folder.

    A Hold names rows and keys of the map, never what stands there.
    """
    try:
        return _read(content, name, maps, defaults)
    except Held as held:
        return held.hold


def _read(content: bytes, name: str, maps: Sequence[SourceMap], defaults: SiteDefaults) -> Recording:
    if len(content) > defaults.most_bytes:
        raise Held(HoldReason.FILE_TOO_LARGE, f"more than {defaults.most_bytes} bytes")
    if not content.strip(b"\xef\xbb\xbf\xfe\xff \t\r\n\0"):
        raise Held(HoldReason.FILE_EMPTY)
    opened = Opened(content, name)
    source = claimed_by(opened, maps)
    file, encoding = FORMS[source.format.kind].extract(opened, source, source.format)
    file = replace(file, named=said_by_name(name, source))
    found, remarks = walls_of(file, source)
    named = preamble.text("timezone", file, source.timezone)
    where = zoning(named, list(found.values()), defaults)
    unit = unit_of(file, source)
    at, more = _placed(file, source, found, where)
    readings = _readings(file, source, at, unit, more)
    schedule = around.schedule(file, source, where, more)
    written = diary(file, source, where, at, more)
    return Recording(
        person=who.person(file, source, defaults),
        monitor=around.monitor(file, source),
        schedule=schedule,
        circumstances=around.circumstances(file, source, unit),
        diary=written,
        readings=readings,
        source=Source(
            map_name=source.name,
            map_version=source.version,
            encoding=encoding,
            sha256=hashlib.sha256(content).hexdigest(),
            zone_origin=where.origin,
            remarks=(*file.remarks, *remarks, *more, *_unknown(file, source)),
        ),
        site=preamble.text("site", file, source.site),
        zone=where.name,
        facts=tuple(_kept(file, source)),
    )


def said_by_name(name: str, source: SourceMap) -> dict[str, str]:
    """What the file name says. Raises Held when it is not as the map declares."""
    if source.file_name is None:
        return {}
    said = taken(source.file_name, name)
    if said is None:
        raise Held(HoldReason.VALUE_UNREADABLE, "the file name is not as the map says")
    return {folded(fact): text for fact, text in said.items()}


def walls_of(file: Extract, source: SourceMap) -> tuple[dict[int, Wall], list[str]]:
    """Wall-clock time of each row by its number. Raises Held when there is none, or too many cannot be."""
    rows = list(filled(file, source))
    found, refused = walls(rows, file, source.readings.time)
    if not any(_is_attempt(row, file, source) for row in rows):
        raise Held(HoldReason.NOTHING_VALID, "the table has no rows")
    if refused and too_many(len(refused), len(rows)):
        raise Held(HoldReason.TIME_UNREADABLE, rows_named(refused))
    if refused:
        return found, [f"{rows_named(refused)}: no clock shows such a time; not used"]
    return found, []


def filled(file: Extract, source: SourceMap) -> Iterator[Row]:
    """Rows of the table. One that is blank in every column that the map names is no attempt."""
    columns = {key(place.column) for _, place in places(source.readings) if place.column is not None}
    for row in file.rows:
        if any(row.cells.get(column) for column in columns):
            yield row


def _is_attempt(row: Row, file: Extract, source: SourceMap) -> bool:
    return row.number not in file.apart and not is_entry(row, source)


def unit_of(file: Extract, source: SourceMap) -> Unit:
    """Unit of the pressures. Raises Held when the file is to say it and does not."""
    stated = source.readings.unit
    if isinstance(stated, str):
        return stated
    found = values.coded("readings.unit", preamble.one("readings.unit", file, stated), stated)
    if found is None:
        raise Held(HoldReason.UNITS_DOUBTFUL, "the file does not say its unit")
    return found


def _placed(
    file: Extract, source: SourceMap, found: dict[int, Wall], where: Zoning
) -> tuple[dict[int, datetime], list[str]]:
    """Instant of each row by its number, and remarks."""
    rows = [row for row in file.rows if row.number in found]
    # an entry of the diary at the time of a reading says no more than a repeat does about the pass of a doubled hour
    repeated = frozenset(row.number for row in rows if not _is_attempt(row, file, source) or repeats(row, source))
    placed, remarks = instants(list(found.values()), where, repeated)
    return dict(zip(found, placed, strict=True)), remarks


def _readings(
    file: Extract, source: SourceMap, at: dict[int, datetime], unit: Unit, remarks: list[str]
) -> tuple[Reading, ...]:
    doubts = Doubts()
    rows = [row for row in file.rows if row.number in at and _is_attempt(row, file, source)]
    if not rows:
        raise Held(HoldReason.NOTHING_VALID, "the table has no rows")
    readings = tuple(reading(row, at[row.number], source, unit, doubts) for row in rows)
    remarks += doubts.settle(len(readings))
    refuse_other_unit(readings, unit)
    return readings


def _kept(file: Extract, source: SourceMap) -> Iterator[tuple[str, str]]:
    for name in source.kept:
        for fact in file.facts:
            if fact.name == folded(name):
                yield name, " ".join(fact.values)


def _unknown(file: Extract, source: SourceMap) -> Iterator[str]:
    """Remarks on what stands in the file and is not known to the map. Positions only: anything may stand there."""
    known = {folded(name) for name in (*source.kept, *source.ignored, *source.signs.facts, *source.signs.columns)}
    known |= {folded(name) for table in source.diary.tables for name in table.header}
    for _, place in places(source):
        known |= {folded(name) for name in (place.fact, place.column) if name is not None}
    first = file.rows[0].number
    facts = [fact.row for fact in file.facts if fact.name not in known]
    above, below = [row for row in facts if row < first], [row for row in facts if row >= first]
    for rows, side in ((above, "above"), (below, "below")):
        if rows:
            yield f"{rows_named(rows)} {side} the table: not known to the map, not used"
    for columns, name in ((file.columns, "table"), *((table.columns, "diary table") for table in file.tables)):
        for at in (at for at, column in enumerate(columns, 1) if column and column not in known):
            yield f"column {at} of the {name}: not known to the map, not used"
