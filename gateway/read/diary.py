"""What the person wrote down: sleep, medication, posture, symptoms, free text."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from gateway.mapping.source import SourceMap
from gateway.mapping.source_parts import NotePlaces, NoteTable, NoteWords
from gateway.mapping.source_place import Place
from gateway.model import Diary, DiaryNote, HoldReason, Interval, NoteKind
from gateway.read import preamble, values
from gateway.read.extract import Extract, Located, Table, cell, folded, key, seen
from gateway.read.held import Held, rows_named
from gateway.read.moment import walls
from gateway.read.readings import too_many
from gateway.read.zone import Zoning, instants

FAR = timedelta(hours=24)
"""An entry further from the readings than this is likely of another day or badly dated (common practice)."""

Entry = tuple[int, DiaryNote]
"""Row of the file where it stands, and the entry."""


def diary(
    file: Extract, source: SourceMap, where: Zoning, rows_at: Mapping[int, datetime], remarks: list[str]
) -> Diary:
    """Sleep and entries in order of time; doubts are added to the remarks. `rows_at`: instant of each row of the
    readings, by its number. Raises Held.
    """
    entries = [*_above(file, source, where, remarks), *_beside(file, source, rows_at)]
    for declared, table in zip(source.diary.tables, file.tables, strict=False):
        entries += _in_table(file, declared, table, where, remarks)
    remarks.extend(_far(entries, list(rows_at.values())))
    ordered = sorted(dict.fromkeys(note for _, note in entries), key=lambda note: note.at.timestamp())
    return Diary(asleep=_asleep(file, source, where, remarks), notes=tuple(ordered))


def _in_table(file: Extract, declared: NoteTable, table: Table, where: Zoning, remarks: list[str]) -> Iterator[Entry]:
    """Entries of a table of their own. Raises Held for a time that cannot be read and a kind that is not listed."""
    texts = {row.number: worded("diary.tables.text", cell(row, declared.text), declared.text) for row in table.rows}
    rows = [row for row in table.rows if texts[row.number] is not None]
    found, refused = walls(rows, file, declared.at)
    if refused:
        if too_many(len(refused), len(rows)):
            raise Held(HoldReason.TIME_UNREADABLE, f"diary.tables.at, {rows_named(refused)}")
        remarks.append(f"{rows_named(refused)} of the diary: no clock shows such a time; not used")
    if where.zone is None and any(wall.offset is None for wall in found.values()):
        raise Held(HoldReason.TIME_ZONE_UNKNOWN, "diary.tables.at")
    # no two entries at one time are the two passes of a doubled hour, as two readings may be
    placed, more = instants(list(found.values()), where, frozenset(found))
    remarks.extend(f"diary: {remark}" for remark in more)
    at = dict(zip(found, placed, strict=True))
    for row in (row for row in rows if row.number in at):
        kind = declared.kind
        if not isinstance(kind, NoteKind):
            kind = values.coded("diary.tables.kind", cell(row, kind), kind) or NoteKind.TEXT
        yield row.number, DiaryNote(at[row.number], kind, texts[row.number] or "")


def _above(file: Extract, source: SourceMap, where: Zoning, remarks: list[str]) -> Iterator[Entry]:
    """Entries among the facts. Raises Held for one that has a text but no time."""
    for place in source.diary.notes:
        at = preamble.occurrences("diary.notes.at", file, place.at)
        kinds, texts = _kinds(file, place, len(at)), _each(file, place.text, len(at))
        for when, kind, text in zip(at, kinds, texts, strict=True):
            moment = preamble.moment_at("diary.notes.at", when, place.at, where, remarks)
            said = worded("diary.notes.text", text, place.text)
            if said is None or (moment is None and place.text.fact is None):
                continue
            if moment is None:
                raise Held(HoldReason.TIME_UNREADABLE, f"diary.notes.at, row {text.row}: an entry without a time")
            yield text.row, DiaryNote(moment, kind, said)


def _kinds(file: Extract, place: NotePlaces, count: int) -> list[NoteKind]:
    if isinstance(place.kind, NoteKind):
        return [place.kind] * count
    cells = _each(file, place.kind, count)
    return [values.coded("diary.notes.kind", each, place.kind) or NoteKind.TEXT for each in cells]


def _each(file: Extract, place: Place, count: int) -> Sequence[Located]:
    """As many values as there are entries: those of a fact, or a constant over and over. Raises Held."""
    found = file.all_of(place)
    if place.fact is None:
        return found * count
    if len(found) != count:
        raise Held(HoldReason.FACTS_DISAGREE, "diary.notes: not as many times as texts or kinds")
    return found


def _beside(file: Extract, source: SourceMap, rows_at: Mapping[int, datetime]) -> Iterator[Entry]:
    """Entries in the rows of the readings."""
    for row in file.rows:
        for place in source.readings.diary if row.number in rows_at else ():
            said = worded("readings.diary", cell(row, place), place)
            if said is not None:
                yield row.number, DiaryNote(rows_at[row.number], place.kind, said)


def worded(part: str, where: Located, place: NoteWords) -> str | None:
    """The text of an entry, a listed code put into words; None when blank. Raises Held for absurd length."""
    said = values.text(part, where) if seen(where.text) else None
    if said is None or not place.words:
        return said
    word = folded(said)
    return next((meaning for code, meaning in place.words.items() if key(code) == word), said)


def _far(entries: Sequence[Entry], rows_at: Sequence[datetime]) -> Iterator[str]:
    times = [at.timestamp() for at in rows_at]
    first, last = min(times) - FAR.total_seconds(), max(times) + FAR.total_seconds()
    far = [row for row, note in entries if not first <= note.at.timestamp() <= last]
    if far:
        yield f"{rows_named(far)}: a diary entry more than 24 hours away from the readings; kept"


def _asleep(file: Extract, source: SourceMap, where: Zoning, remarks: list[str]) -> tuple[Interval, ...]:
    """Spans of sleep in order of time. Raises Held for a span without an end, one that ends before it starts, and
    for spans that overlap.
    """
    spans: set[Interval] = set()
    for sleep in source.diary.asleep:
        begins = preamble.moments("diary.asleep.fell_asleep", file, sleep.fell_asleep, where, remarks)
        ends = preamble.moments("diary.asleep.woke", file, sleep.woke, where, remarks)
        if len(begins) != len(ends):
            raise Held(HoldReason.SLEEP_DOUBTFUL, "a time of falling asleep or of waking is missing")
        for begin, end in zip(begins, ends, strict=True):
            if begin is None and end is None:
                continue
            if begin is None or end is None:
                raise Held(HoldReason.SLEEP_DOUBTFUL, "a time of falling asleep or of waking is missing")
            # both comparisons: in one zone Python compares wall-clock times, which turn round when clocks go back
            if begin.timestamp() >= end.timestamp() or not begin < end:
                raise Held(HoldReason.SLEEP_DOUBTFUL, "a sleep ends before it begins")
            spans.add(Interval(begin, end))
    ordered = sorted(spans, key=lambda span: span.start.timestamp())
    if any(second.start.timestamp() < first.end.timestamp() for first, second in pairwise(ordered)):
        raise Held(HoldReason.SLEEP_DOUBTFUL, "two sleeps overlap")
    return tuple(ordered)
