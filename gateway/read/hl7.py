"""HL7 version 2 observation results -> facts and rows (HL7 v2.5.1: chapter 2 for the form, chapter 7 for ORU^R01).

Own and narrow: it takes the segments apart, refuses what it does not know, and turns nothing into a number.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from gateway.mapping.source import SourceMap
from gateway.mapping.source_format import HL7_FIELD, Hl7
from gateway.model import HoldReason
from gateway.read.extract import Extract, Fact, Row, folded, seen
from gateway.read.grid import MOST_ROWS
from gateway.read.held import Held, rows_named
from gateway.read.hl7_segment import Segment, segments
from gateway.read.hl7_time import iso
from gateway.read.text import decode, glance
from gateway.read.tree import named, shows_signs

# OBX-11 of HL7 table 0085, the one that speaks loudest first: wrong, deleted, cannot be obtained, then the others
_LOUDEST = ("W", "D", "X")


@dataclass(slots=True)
class Attempt:
    """Observations of one group that belong to one time: cells by code, and the OBX-11 of its pressures."""

    row: int
    time: str
    cells: dict[str, str] = field(default_factory=dict)
    statuses: list[str] = field(default_factory=list)


def claims(content: bytes, source: SourceMap, form: Hl7) -> bool:
    """Does it begin as a message or batch does, with the signs of the map? Raises Held for a damaged one."""
    start = glance(content[:4096], form.code_page).lstrip("\r\n ")
    return start.startswith(("MSH|", "FHS|", "BHS|")) and shows_signs(extract(content, source, form)[0], source)


def extract(content: bytes, source: SourceMap, form: Hl7) -> tuple[Extract, str]:
    """Facts and rows, and the encoding. `Row.number` is the segment at which an attempt begins."""
    text, encoding = decode(content, form.code_page)
    found = segments(text)
    _refuse_other_messages(found)
    wanted = named(source, "column", source.signs.columns)
    _refuse_nobody(found, wanted, source.person.identifier.fact)
    attempts, units = _attempts(found, _pressures(source), wanted)
    if len(attempts) > MOST_ROWS:
        raise Held(HoldReason.FILE_TOO_LARGE, f"more than {MOST_ROWS} readings")
    facts = [fact for name in named(source, "fact", source.signs.facts) for fact in _facts(found, name)]
    facts += [Fact(row, "unit", (unit,)) for unit, row in units.items()]
    codes = dict.fromkeys(code for each in attempts for code in each.cells)
    rows = tuple(
        Row(each.row, {**each.cells, "time": each.time, "status": _loudest(each.statuses)}) for each in attempts
    )
    found_all = Extract(
        facts=tuple(facts), columns=("time", "status", *codes), rows=rows, remarks=tuple(_unknown(found, wanted))
    )
    return found_all, encoding


def _unknown(found: Sequence[Segment], wanted: Sequence[str]) -> Iterator[str]:
    """Positions only: anything may stand there."""
    known = {folded(code) for code in wanted}
    others = [each.line for each in found if each.name == "OBX" and not known & _codes(each)]
    if others:
        yield f"segments with other observations ({rows_named(others)}): not known to the map, not used"


def _codes(each: Segment) -> set[str]:
    return {folded(each.value(3, part)) for part in (1, 2, 4, 5)} - {""}


def _refuse_other_messages(found: Sequence[Segment]) -> None:
    kinds = [(each.line, each.value(9, 1), each.value(9, 2)) for each in found if each.name == "MSH"]
    if not kinds:
        raise Held(HoldReason.NO_MAP, "there is no message in it")
    for line, message, event in kinds:
        if (message, event) != ("ORU", "R01"):
            raise Held(HoldReason.FILE_UNREADABLE, f"segment {line} begins a message that is not ORU^R01")


def _refuse_nobody(found: Sequence[Segment], wanted: Sequence[str], identifier: str | None) -> None:
    """Every message, and every PID in one, must say itself whose the observations are that follow: what another
    one says may be about another person.
    """
    if identifier is None:
        return
    known = {folded(code) for code in wanted}
    starts = [at for at, each in enumerate(found) if each.name in ("MSH", identifier[:3])]
    for start, end in pairwise([0, *starts, len(found)]):
        part = found[start:end]
        used = next((each.line for each in part if each.name == "OBX" and known & _codes(each)), None)
        if used is not None and not any(seen(fact.values[0]) for fact in _facts(part, identifier)):
            raise Held(HoldReason.IDENTIFIER_MISSING, f"nothing says whose the observation in segment {used} is")


def _pressures(source: SourceMap) -> frozenset[str]:
    places = (source.readings.systolic, source.readings.diastolic, source.readings.mean)
    return frozenset(folded(place.column) for place in places if place is not None and place.column is not None)


def _attempts(
    found: Sequence[Segment], pressures: frozenset[str], wanted: Sequence[str]
) -> tuple[list[Attempt], dict[str, int]]:
    """Attempts in the order of the file, and every unit of a pressure with the segment where it first stands.

    One attempt is what shares the group (OBR) and the time. OBX-4 does not tell attempts apart: devices number their
    channels there.
    """
    attempts: dict[tuple[int, str], Attempt] = {}
    units: dict[str, int] = {}
    known = {folded(code) for code in wanted}
    group, group_time = 0, ""
    for each in found:
        if each.name in ("MSH", "OBR"):
            group, group_time = each.line, each.value(7, 1) if each.name == "OBR" else ""
        if each.name != "OBX":
            continue
        codes = known & _codes(each)
        if not codes:
            continue
        time = iso(each.value(14, 1) or group_time, each.line)
        attempt = attempts.setdefault((group, time), Attempt(each.line, time))
        _take(attempt, each, codes, pressures, units)
    return list(attempts.values()), units


def _take(attempt: Attempt, each: Segment, codes: set[str], pressures: frozenset[str], units: dict[str, int]) -> None:
    if len(each.repeated(5)) > 1 or codes & attempt.cells.keys():
        raise Held(HoldReason.FACTS_DISAGREE, f"segment {each.line}: a second value of one observation and time")
    kind, value = each.value(2, 1), each.value(5, 1)
    if kind == "SN":
        limit, value = value, each.value(5, 2)
        if limit not in ("", "=") or each.goes_on(5, 2):
            raise Held(HoldReason.VALUE_UNREADABLE, f"segment {each.line}: a limit or range instead of a value")
    elif (kind == "NM" or codes & pressures) and each.goes_on(5, 1):
        raise Held(HoldReason.VALUE_UNREADABLE, f"segment {each.line}: a number of several parts")
    status = each.value(11, 1)
    if not codes & pressures:
        attempt.statuses += [status] if status in ("W", "D") else []
        attempt.cells.update(dict.fromkeys(codes, "" if status == "X" else value))
        return
    attempt.cells.update(dict.fromkeys(codes, value))
    attempt.statuses.append(status)
    if unit := each.value(6, 1):
        units.setdefault(unit, each.line)
    elif value:
        raise Held(HoldReason.UNITS_DOUBTFUL, f"segment {each.line} states no unit")


def _loudest(statuses: Sequence[str]) -> str:
    """One word for the attempt. Of differing ordinary ones the first that is not final, so that none is hidden."""
    for code in _LOUDEST:
        if code in statuses:
            return code
    return next((code for code in statuses if code != "F"), "F" if statuses else "")


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
