"""What the person wrote down: sleep, medication, posture, symptoms, free text."""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from itertools import pairwise

from gateway.mapping.source import SourceMap
from gateway.mapping.source_parts import NotePlaces, NoteWords
from gateway.mapping.source_place import Place
from gateway.model import Diary, DiaryNote, HoldReason, Interval, NoteKind, Reading
from gateway.read import preamble, values
from gateway.read.extract import Extract, Located, Row, cell, folded, key, seen
from gateway.read.held import Held, rows_named
from gateway.read.zone import Zoning

FAR = timedelta(hours=24)
"""An entry further from the readings than this is likely of another day or badly dated (common practice)."""

Entry = tuple[int, DiaryNote]
"""Row of the file where it stands, and the entry."""


def diary(file: Extract, source: SourceMap, where: Zoning, readings: Sequence[Reading], remarks: list[str]) -> Diary:
    """Sleep and entries in order of time; doubts are added to the remarks. Raises Held."""
    entries = [*_above(file, source, where, remarks), *_beside(file, source, readings)]
    remarks.extend(_far(entries, readings))
    ordered = sorted(dict.fromkeys(note for _, note in entries), key=lambda note: note.at.timestamp())
    return Diary(asleep=_asleep(file, source, where, remarks), notes=tuple(ordered))


def _above(file: Extract, source: SourceMap, where: Zoning, remarks: list[str]) -> Iterator[Entry]:
    """Entries among the facts. Raises Held for one that has a text but no time."""
    for place in source.diary.notes:
        at = preamble.occurrences("diary.notes.at", file, place.at)
        kinds, texts = _kinds(file, place, len(at)), _each(file, place.text, len(at))
        for when, kind, text in zip(at, kinds, texts, strict=True):
            moment = preamble.moment_at("diary.notes.at", when, place.at, where, remarks)
            said = worded("diary.notes.text", text, place.text)
            if said is None:
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


def _beside(file: Extract, source: SourceMap, readings: Sequence[Reading]) -> Iterator[Entry]:
    """Entries in the rows of the readings."""
    if not source.readings.diary:
        return
    rows: dict[int, Row] = {row.number: row for row in file.rows}
    for reading in readings:
        for place in source.readings.diary:
            said = worded("readings.diary", cell(rows[reading.row], place), place)
            if said is not None:
                yield reading.row, DiaryNote(reading.at, place.kind, said)


def worded(part: str, where: Located, place: NoteWords) -> str | None:
    """The text of an entry, a listed code put into words; None when blank. Raises Held for absurd length."""
    said = values.text(part, where) if seen(where.text) else None
    if said is None or not place.words:
        return said
    word = folded(said)
    return next((meaning for code, meaning in place.words.items() if key(code) == word), said)


def _far(entries: Sequence[Entry], readings: Sequence[Reading]) -> Iterator[str]:
    times = [reading.at.timestamp() for reading in readings]
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
