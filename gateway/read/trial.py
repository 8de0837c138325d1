"""A file that is held while it is read -> every row of it and every doubt, for the person who mends the map.

`read` stops at the first fault, as it must; here each step is tried by itself, so that all faults are seen at once.
Nothing of this is ever filed.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from fnmatch import fnmatchcase

from gateway.mapping.site import SiteDefaults
from gateway.mapping.source import SourceMap, places
from gateway.read import around, preamble, who
from gateway.read.diary import diary
from gateway.read.extract import Extract, Row, cell
from gateway.read.forms import FORMS
from gateway.read.held import Held
from gateway.read.moment import Wall, walls
from gateway.read.opened import Opened
from gateway.read.readings import Doubts, Unit, is_entry, reading
from gateway.read.recording import filled, said_by_name, unit_of, walls_of
from gateway.read.zone import Zoning, instants, zoning

_ANY_TIME = datetime(2000, 1, 1, tzinfo=UTC)
"""The values of a row are looked at apart from its time, which may be what is wrong."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedRow:
    """One row of the table. `cells`: key of the map and the text that stands there; `use`: attempt, diary or not
    used; `doubts`: what does not fit, in plain words.
    """

    row: int
    cells: tuple[tuple[str, str], ...]
    use: str
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What could be seen of a file. `doubts` concern the file as a whole; each is a reason to hold it."""

    rows: tuple[TriedRow, ...]
    doubts: tuple[str, ...]


def trial(content: bytes, name: str, source: SourceMap, defaults: SiteDefaults) -> Trial:
    """Every row and every doubt of a file by this one map, whether or not it is a draft."""
    doubts: list[str] = []
    if not fnmatchcase(name.casefold(), source.signs.name.casefold()):
        doubts.append(f"signs.name: the file name does not fit '{source.signs.name}'")
    try:
        file, _ = FORMS[source.format.kind].extract(Opened(content, name), source, source.format)
    except Held as held:
        return Trial(rows=(), doubts=(*doubts, *_missing(content, name, source), held.hold.sentence))
    try:
        file = replace(file, named=said_by_name(name, source))
    except Held as held:
        doubts.append(held.hold.sentence)
    used = {row.number for row in filled(file, source)}
    doubts += [*_missing(content, name, source), *_of_file(file, source, defaults)]
    rows = tuple(_tried(row, row.number in used, file, source, doubts) for row in file.rows)
    return Trial(rows=rows, doubts=tuple(dict.fromkeys(doubts)))


def _missing(content: bytes, name: str, source: SourceMap) -> Iterator[str]:
    """Do the signs fail, by which a file is known to belong to this map?"""
    try:
        claimed = FORMS[source.format.kind].claims(Opened(content, name), source, source.format)
    except Held:
        return  # said by the hold of the file itself
    if not claimed:
        words = ", ".join((*source.signs.columns, *source.signs.facts))
        yield f"signs: not all of these stand where the map looks for them: {words}"


def _tried(row: Row, used: bool, file: Extract, source: SourceMap, told: Sequence[str]) -> TriedRow:
    named = [(part, place) for part, place in places(source.readings) if place.column is not None]
    cells = tuple((part.removeprefix("readings."), cell(row, place).text) for part, place in named)
    entry = row.number in file.apart or is_entry(row, source)
    use = "not used" if not used else "diary" if entry else "attempt"
    found = tuple(_of_row(row, entry, file, source)) if used else ()
    # what is wrong with the whole file, such as a date above the table, is not said again in each row
    doubts = tuple(each for each in found if each not in told or f"row {row.number}" in each)
    return TriedRow(row=row.number, cells=cells, use=use, doubts=doubts)


def _of_row(row: Row, entry: bool, file: Extract, source: SourceMap) -> Iterator[str]:
    try:
        if walls([row], file, source.readings.time)[1]:
            yield "no clock shows such a time"
    except Held as held:
        yield held.hold.sentence
    if entry:
        return
    found = Doubts()
    try:
        reading(row, _ANY_TIME, source, _unit(file, source), found)
    except Held as held:
        yield held.hold.sentence
    if found.unreadable:
        yield "a value is neither a number nor a known mark"


def _unit(file: Extract, source: SourceMap) -> Unit:
    """Digits are digits in either unit; a unit that is not known is a doubt of the file and not of each row."""
    try:
        return unit_of(file, source)
    except Held:
        return "mmHg"


def _of_file(file: Extract, source: SourceMap, defaults: SiteDefaults) -> Iterator[str]:
    remarks: list[str] = []
    steps: list[Callable[[], object]] = [
        lambda: unit_of(file, source),
        lambda: who.person(file, source, defaults),
        lambda: around.monitor(file, source),
        lambda: around.circumstances(file, source, _unit(file, source)),
        lambda: preamble.text("site", file, source.site),
    ]
    yield from _held(steps)
    yield from _placed(file, source, defaults, remarks)
    yield from (*remarks, *file.remarks)


def _placed(file: Extract, source: SourceMap, defaults: SiteDefaults, remarks: list[str]) -> Iterator[str]:
    """Doubts about zone, order of the times, schedule and diary, as far as the times can be read at all."""
    try:
        found = walls_of(file, source)[0]
        where = zoning(preamble.text("timezone", file, source.timezone), list(found.values()), defaults)
        at = _instants(found, where, remarks)
    except Held as held:
        yield held.hold.sentence
        return
    steps: list[Callable[[], object]] = [
        lambda: around.schedule(file, source, where, remarks),
        lambda: diary(file, source, where, at, remarks),
    ]
    yield from _held(steps)


def _instants(found: Mapping[int, Wall], where: Zoning, remarks: list[str]) -> dict[int, datetime]:
    placed, more = instants(list(found.values()), where, frozenset())
    remarks.extend(more)
    return dict(zip(found, placed, strict=True))


def _held(steps: list[Callable[[], object]]) -> Iterator[str]:
    for step in steps:
        try:
            step()
        except Held as held:
            yield held.hold.sentence
