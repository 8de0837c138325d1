"""One unknown file -> a proposed source map. The order of the steps is the order of this file."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from gateway.drafting import codes, facts, numbers, times
from gateway.drafting.facts import Fact
from gateway.drafting.guess import Draft, Guess, NoDraft, written
from gateway.drafting.naming import DAY, Named, dated
from gateway.drafting.origin import Origin, origin
from gateway.drafting.table import Line, Table
from gateway.drafting.times import Timed
from gateway.drafting.words import Words

TOP = (
    "A draft made from one file. It is refused by the service until a person has looked at every line marked CONFIRM",
    "and removed the key 'draft'. Try it: bp-gateway mapping try FILE --map THIS-FILE",
    "The words of a map: mappings/README.md, or bp-gateway mapping schema",
)


NO_TIME = NoDraft(
    "The dates and times are written in more than one form, in one that no map can read, or without any "
    "date. Write the map by hand (mappings/README.md, Patterns)."
)


def propose(content: bytes, words: Words, now: datetime, name: str = "") -> Draft | NoDraft:
    """Propose a map for delimited text, text of fixed width, a workbook, XML or JSON. Evidence names rows, counts and
    patterns, never a person; `name` is the file's, of which only a date is used.
    """
    found = origin(content, words)
    return found if isinstance(found, NoDraft) else _drafted(found, words, now, dated(name))


def _drafted(found: Origin, words: Words, now: datetime, named: Named | None) -> Draft | NoDraft:
    started: list[tuple[Mapping[str, str], str]] = [
        ({"fact": each.name}, each.only) for each in found.above if each.meaning == "starts_on" and each.only
    ]
    started += [({"file_name": DAY}, named.day)] if named else []
    timed = times.of_table(found.table, started, now)
    if timed is None:
        return NO_TIME
    body = found.table.body
    footer, table = body[timed.rows :], replace(found.table, body=body[: timed.rows])
    guesses = [
        *_head(),
        *_file_name(timed, named),
        *found.form,
        *_footer(found, table, footer),
        *facts.guesses(found.above, words, timed.date_pattern, now),
        *_readings(table, timed, found.above, words),
    ]
    guesses += _signs(table, guesses) if found.grid else _signs_of_paths(table, guesses)
    remarks = (f"the file was read as {found.read_as}", *_remarks(found, guesses, footer))
    return Draft(text=written(guesses, remarks, TOP), guesses=tuple(guesses), remarks=remarks)


def _file_name(timed: Timed, named: Named | None) -> Iterator[Guess]:
    if named is not None and "file_name" in repr(timed.place):
        asked = "the only date is in the name of the file; are all names built so?"
        yield Guess(key="file_name", value=named.pattern, evidence=asked, proven=False)


def _head() -> Iterator[Guess]:
    yield Guess(key="name", value="drafted", evidence="give the map a name of its own")
    yield Guess(key="version", value="1")
    yield Guess(key="title", value="Drafted from one file", evidence="say what kind of export this is")
    yield Guess(key="draft", value=True, evidence="remove this line when every other line is confirmed")


def _footer(origin: Origin, table: Table, footer: Sequence[Line]) -> Iterator[Guess]:
    first = footer[0][1][0].strip() if footer and origin.grid else ""
    if first and all(first.casefold() != cells[0].strip().casefold() for _, cells in table.body):
        asked = f"from row {footer[0][0]} on no row has a time; does every file end with this cell?"
        yield Guess(key="format.ends", value=[first], evidence=asked, proven=False)


def _readings(table: Table, timed: Timed, above: Sequence[Fact], words: Words) -> Iterator[Guess]:
    yield Guess(key=times.KEY, value=timed.place, evidence=timed.evidence, proven=timed.proven)
    stated = next((each for each in above if each.meaning == "unit" and each.only), None)
    unit = numbers.unit(table, stated.only if stated else None)
    yield unit
    yield from numbers.columns(table)
    if (marks := numbers.marks(table, str(unit.value))) is not None:
        yield marks
    yield from codes.of_table(table, words)


def _signs(table: Table, guesses: Sequence[Guess]) -> Iterator[Guess]:
    names = [name for cell in table.header[1] if (name := cell.strip())]
    said = f"every word of the header in row {table.header[0]}; do all files of this kind have them?"
    yield Guess(key="signs.columns", value=list(dict.fromkeys(names)), evidence=said)
    used = set(_columns([each.value for each in guesses]))
    unused = [name for name in dict.fromkeys(names) if name not in used]
    if unused:
        asked = "these columns are not read; does one of them matter?"
        yield Guess(key="ignored", value=unused, evidence=asked, proven=False)


def _columns(values: Sequence[object]) -> Iterator[str]:
    for value in values:
        if isinstance(value, dict):
            if isinstance(column := value.get("column"), str):
                yield column
            yield from _columns(list(value.values()))


def _signs_of_paths(table: Table, guesses: Sequence[Guess]) -> Iterator[Guess]:
    """Not every reading need have every value, so only the time and the pressures are signs."""
    signs = [meaning for meaning in ("moment", "date", "time", "systolic", "diastolic") if meaning in table.columns]
    said = "the time and the pressures of a reading; does no other kind of file have just these?"
    yield Guess(key="signs.columns", value=[table.name(each) for each in signs], evidence=said)
    used = set(_columns([each.value for each in guesses]))
    often = [
        name
        for at, name in enumerate(table.names)
        if name not in used and 2 * sum(bool(cells[at]) for _, cells in table.body) >= len(table.body)
    ]
    if often:
        asked = "these values of a reading are not read; does one of them matter?"
        yield Guess(key="ignored", value=often, evidence=asked, proven=False)


def _remarks(found: Origin, guesses: Sequence[Guess], footer: Sequence[Line]) -> Iterator[str]:
    used = {str(where.get("fact")) for each in guesses for where in _places(each.value)}
    unread = [each.row for each in found.above if each.name not in used]
    if unread and found.grid:
        rows = ", ".join(map(str, unread[:20]))
        yield f"not read above the table: row {rows}; name the facts that matter, and put the others under ignored"
    elif unread:
        yield f"{len(unread)} paths outside the readings are not read; name those that matter as facts"
    if footer and not any(each.key == "format.ends" for each in guesses):
        last = f"from row {footer[0][0]} on no row has a time"
        yield f"{last}, and nothing marks the end: such a file is held" if found.grid else last


def _places(value: object) -> Iterator[Mapping[str, object]]:
    if isinstance(value, Mapping):
        yield value
        for each in value.values():
            yield from _places(each)
