"""HL7 version 2 observation results -> facts and rows (HL7 v2.5.1: chapter 2 for the form, chapter 7 for ORU^R01).

Own and narrow: it takes the segments apart, refuses what it does not know, and turns nothing into a number.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from gateway.mapping.source import SourceMap
from gateway.mapping.source_format import HL7_FIELD, Hl7
from gateway.model import HoldReason
from gateway.read.extract import Extract, Fact, Row, folded, seen
from gateway.read.grid import MOST_ROWS
from gateway.read.held import Held, rows_named
from gateway.read.hl7_attempt import Wanted, attempts, wanted_of
from gateway.read.hl7_segment import Segment, segments
from gateway.read.hl7_time import iso
from gateway.read.opened import Opened
from gateway.read.text import decode, glance
from gateway.read.tree import named, shows_signs


def claims(file: Opened, source: SourceMap, form: Hl7) -> bool:
    """Does it begin as a message or batch does, with the signs of the map? Raises Held for a damaged one."""
    start = glance(file.content[:4096], form.code_page).lstrip("\r\n ")
    return start.startswith(("MSH|", "FHS|", "BHS|")) and shows_signs(extract(file, source, form)[0], source)


def extract(file: Opened, source: SourceMap, form: Hl7) -> tuple[Extract, str]:
    """Facts and rows, and the encoding. `Row.number` is the segment at which an attempt begins."""
    found, encoding = file.once(("hl7", form.code_page), lambda: _parsed(file.content, form.code_page))
    _refuse_other_messages(found)
    wanted = wanted_of(source, form)
    _refuse_nobody(found, wanted, source.person.identifier.fact)
    groups, units = attempts(found, wanted)
    if len(groups) > MOST_ROWS:
        raise Held(HoldReason.FILE_TOO_LARGE, f"more than {MOST_ROWS} readings")
    apart = frozenset(each.row for each in groups if each.is_entry(wanted))
    facts = [fact for name in named(source, "fact", source.signs.facts) for fact in _facts(found, name)]
    facts += [Fact(row, "unit", (unit,)) for unit, row in units.items()]
    codes = dict.fromkeys(code for each in groups for code in each.cells)
    rows = tuple(Row(each.row, {**each.cells, "time": each.time, "status": each.status}) for each in groups)
    return Extract(
        facts=tuple(facts),
        columns=("time", "status", *codes),
        rows=rows,
        remarks=tuple(_unknown(found, wanted)),
        apart=apart,
    ), encoding


def _parsed(content: bytes, code_page: str | None) -> tuple[Sequence[Segment], str]:
    text, encoding = decode(content, code_page)
    return segments(text), encoding


def _unknown(found: Sequence[Segment], wanted: Wanted) -> Iterator[str]:
    """Positions only: anything may stand there."""
    others = [each.line for each in found if each.name == "OBX" and not wanted.codes(each)]
    if others:
        yield f"segments with other observations ({rows_named(others)}): not known to the map, not used"


def _refuse_other_messages(found: Sequence[Segment]) -> None:
    kinds = [(each.line, each.value(9, 1), each.value(9, 2)) for each in found if each.name == "MSH"]
    if not kinds:
        raise Held(HoldReason.NO_MAP, "there is no message in it")
    for line, message, event in kinds:
        if (message, event) != ("ORU", "R01"):
            raise Held(HoldReason.FILE_UNREADABLE, f"segment {line} begins a message that is not ORU^R01")


def _refuse_nobody(found: Sequence[Segment], wanted: Wanted, identifier: str | None) -> None:
    """Every message, and every PID in one, must say itself whose the observations are that follow: what another
    one says may be about another person.
    """
    if identifier is None:
        return
    starts = [at for at, each in enumerate(found) if each.name in ("MSH", identifier[:3])]
    for start, end in pairwise([0, *starts, len(found)]):
        part = found[start:end]
        used = next((each.line for each in part if each.name == "OBX" and wanted.codes(each)), None)
        if used is not None and not any(seen(fact.values[0]) for fact in _facts(part, identifier)):
            raise Held(HoldReason.IDENTIFIER_MISSING, f"nothing says whose the observation in segment {used} is")


def _facts(found: Sequence[Segment], name: str) -> Iterator[Fact]:
    """Every occurrence of a field, of a chosen repetition if the name says which."""
    parts = HL7_FIELD.fullmatch(name)
    if parts is None:  # `unit`, which stands in OBX-6
        return
    segment, number, chosen, wanted, component = parts.groups()
    for each in found:
        if each.name != segment:
            continue
        for repeated in each.repeated(int(number)):
            if chosen and each.component(repeated, int(chosen)) != wanted:
                continue
            value = each.component(repeated, int(component or 1))
            if (segment == "PID" and number == "7") or (segment == "OBR" and number in "78"):
                value = iso(value[:8] if segment == "PID" else value, each.line)
            yield Fact(each.line, folded(name), (value,))
