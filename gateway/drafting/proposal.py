"""One unknown file -> a proposed source map. The order of the steps is the order of this file."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from gateway.drafting import codes, facts, numbers, sheets, times
from gateway.drafting.encoding import Decoded, decoded
from gateway.drafting.facts import Fact
from gateway.drafting.guess import Draft, Guess, NoDraft, written
from gateway.drafting.sheets import Sheet
from gateway.drafting.table import Line, Table, find
from gateway.drafting.times import Timed
from gateway.drafting.words import Words
from gateway.read.archive import is_archive

TOP = (
    "A draft made from one file. It is refused by the service until a person has looked at every line marked CONFIRM",
    "and removed the key 'draft'. Try it: bp-gateway mapping try FILE --map THIS-FILE",
    "The words of a map: mappings/README.md, or bp-gateway mapping schema",
)


NO_TABLE = NoDraft(
    "No header row with a time, a systolic and a diastolic pressure was recognised; a draft is made of "
    "delimited text and of workbooks only. Write the map by hand (mappings/README.md), beginning with [signs]."
)
NO_TIME = NoDraft(
    "The dates and times are written in more than one form, in one that no map can read, or without any "
    "date. Write the map by hand (mappings/README.md, Patterns)."
)


def propose(content: bytes, words: Words, now: datetime) -> Draft | NoDraft:
    """Propose a map for delimited text or a workbook. Evidence names rows, counts and patterns, never a person."""
    origin = sheets.find(content, words) if is_archive(content) else decoded(content, words)
    if isinstance(origin, NoDraft):
        return origin
    table = origin.table if isinstance(origin, Sheet) else find(origin.text, words) if origin else None
    if origin is None or table is None:
        return NO_TABLE
    return _drafted(table, origin, words, now)


def _drafted(table: Table, origin: Decoded | Sheet, words: Words, now: datetime) -> Draft | NoDraft:
    sign = facts.separator(table)
    above = facts.found(table, words, sign)
    started = [(each.name, each.only) for each in above if each.meaning == "starts_on" and each.only]
    timed = times.of_table(table, started, now)
    if timed is None:
        return NO_TIME
    footer, table = table.body[timed.rows :], replace(table, body=table.body[: timed.rows])
    guesses = [
        *_head(),
        *(_sheet(origin) if isinstance(origin, Sheet) else _text(table, origin)),
        *_format(table, sign, footer),
        *facts.guesses(above, words, timed.date_pattern, now),
        *_readings(table, timed, above, words),
    ]
    guesses += _signs(table, guesses)
    read_as = "a workbook" if isinstance(origin, Sheet) else origin.encoding
    remarks = (f"the file was read as {read_as}", *_remarks(above, guesses, footer))
    return Draft(text=written(guesses, remarks, TOP), guesses=tuple(guesses), remarks=remarks)


def _head() -> Iterator[Guess]:
    yield Guess(key="name", value="drafted", evidence="give the map a name of its own")
    yield Guess(key="version", value="1")
    yield Guess(key="title", value="Drafted from one file", evidence="say what kind of export this is")
    yield Guess(key="draft", value=True, evidence="remove this line when every other line is confirmed")


def _sheet(sheet: Sheet) -> Iterator[Guess]:
    yield Guess(key="format.kind", value="workbook")
    yield sheets.guess(sheet)


def _text(table: Table, text: Decoded) -> Iterator[Guess]:
    yield Guess(key="format.kind", value="delimited")
    wide = sum(any(cell.strip() for cell in cells[len(table.header[1]) :]) for _, cells in table.body)
    said = f"it gives {len(table.columns)} columns that are known by their words"
    if wide:
        said += f"; but {wide} rows have more cells than the header"
    if table.tied:
        said += "; another delimiter gives as many"
    yield Guess(key="format.delimiter", value=table.delimiter, evidence=said, proven=not table.tied and not wide)
    if text.code_page is not None:
        asked = (
            f"the file is not UTF-8; it can be read as {text.code_page}, but so it can as others: look at the letters"
        )
        yield Guess(key="format.code_page", value=text.code_page, evidence=asked, proven=False)


def _format(table: Table, sign: str | None, footer: Sequence[Line]) -> Iterator[Guess]:
    yield numbers.decimal_mark(table)
    if sign is not None:
        yield Guess(key="format.fact_separator", value=sign, evidence="stands in most rows above the table")
    first = footer[0][1][0].strip() if footer else ""
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


def _remarks(above: Sequence[Fact], guesses: Sequence[Guess], footer: Sequence[Line]) -> Iterator[str]:
    used = {str(each.value.get("fact")) for each in guesses if isinstance(each.value, dict)}
    unread = [each.row for each in above if each.name not in used]
    if unread:
        rows = ", ".join(map(str, unread[:20]))
        yield f"not read above the table: row {rows}; name the facts that matter, and put the others under ignored"
    if footer and not any(each.key == "format.ends" for each in guesses):
        yield f"from row {footer[0][0]} on no row has a time, and nothing marks the end: such a file is held"
