"""Observations of HL7 version 2 -> attempts: what shares a group (OBR) and a time, cells by code."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from gateway.mapping.source import SourceMap
from gateway.mapping.source_format import Hl7
from gateway.model import HoldReason
from gateway.read.extract import folded
from gateway.read.held import Held
from gateway.read.hl7_segment import Segment
from gateway.read.hl7_time import iso
from gateway.read.tree import named

NOTE = "note"
"""column of what stands in NTE segments below the observations of an attempt"""
# OBX-11 of HL7 table 0085, the one that speaks loudest first: wrong, deleted, cannot be obtained, then the others
_LOUDEST = ("W", "D", "X")
_PER_MINUTE = frozenset(
    {"/min", "1/min", "{beats}/min", "{beat}/min", "bpm", "beats/min", "264864", "mdc_dim_beat_per_min"}
)
"""UCUM, what is written for it (common practice), and ISO/IEEE 11073-10101 (from memory: 264864)"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Codes that the map names, folded: all of them, and which of them are pressures, the heart rate, the diary.
    `systems`: the code systems that count, folded; none means any.
    """

    all: frozenset[str]
    pressures: frozenset[str]
    rate: str
    diary: frozenset[str]
    systems: frozenset[str]

    def codes(self, each: Segment) -> frozenset[str]:
        """Those of the codes that an OBX states, by number or name, in either of its two systems."""
        found: set[str] = set()
        for code, name, system in ((1, 2, 3), (4, 5, 6)):
            if not self.systems or folded(each.value(3, system)) in self.systems:
                found |= {folded(each.value(3, code)), folded(each.value(3, name))}
        return self.all & found


@dataclass(slots=True)
class Attempt:
    """Observations of one group that belong to one time: cells by code, and the OBX-11 of its pressures."""

    row: int
    time: str
    cells: dict[str, str] = field(default_factory=dict)
    statuses: list[str] = field(default_factory=list)

    @property
    def status(self) -> str:
        """One word for the attempt. Of differing ordinary ones the first that is not final: none is hidden."""
        for code in _LOUDEST:
            if code in self.statuses:
                return code
        return next((code for code in self.statuses if code != "F"), "F" if self.statuses else "")

    def is_entry(self, wanted: Wanted) -> bool:
        """Is it no attempt but an entry of the diary? Raises Held for one that is said to be wrong or deleted."""
        if not self.cells.keys() - {NOTE} <= wanted.diary:
            return False
        if self.statuses:
            raise Held(HoldReason.VALUE_UNREADABLE, f"segment {self.row}: an entry that is wrong or deleted")
        return True


def wanted_of(source: SourceMap, form: Hl7) -> Wanted:
    """What a map looks for."""
    readings = source.readings
    places = (readings.systolic, readings.diastolic, readings.mean)
    return Wanted(
        all=frozenset(folded(code) for code in named(source, "column", source.signs.columns)),
        pressures=frozenset(folded(each.column) for each in places if each is not None and each.column is not None),
        rate=folded(readings.heart_rate.column or "") if readings.heart_rate else "",
        diary=frozenset(folded(each.column) for each in readings.diary if each.column is not None),
        systems=frozenset(folded(system) for system in form.code_systems),
    )


def attempts(found: Sequence[Segment], wanted: Wanted) -> tuple[list[Attempt], dict[str, int]]:
    """Attempts in the order of the file, and every unit of a pressure with the segment where it first stands.

    OBX-4 does not tell attempts apart: devices number their channels there. A note (NTE) is of the observation above.
    """
    groups: dict[tuple[int, str], Attempt] = {}
    units: dict[str, int] = {}
    group, group_time = 0, ""
    last: Attempt | None = None
    for each in found:
        if each.name in ("MSH", "OBR"):
            group, group_time, last = each.line, each.value(7, 1) if each.name == "OBR" else "", None
        elif each.name == "NTE" and last is not None and NOTE in wanted.all:
            _note(last, each)
        elif each.name == "OBX":
            codes, last = wanted.codes(each), None
            if not codes:
                continue
            time = iso(each.value(14, 1) or group_time, each.line)
            last = groups.setdefault((group, time), Attempt(each.line, time))
            _take(last, each, codes, wanted, units)
    return list(groups.values()), units


def _note(attempt: Attempt, each: Segment) -> None:
    said = [attempt.cells.get(NOTE, ""), *(each.component(part, 1) for part in each.repeated(3))]
    attempt.cells[NOTE] = "; ".join(part for part in said if part)


def _take(attempt: Attempt, each: Segment, codes: frozenset[str], wanted: Wanted, units: dict[str, int]) -> None:
    if len(each.repeated(5)) > 1 or codes & attempt.cells.keys():
        raise Held(HoldReason.FACTS_DISAGREE, f"segment {each.line}: a second value of one observation and time")
    value = _value(each, bool(codes & wanted.pressures), bool(codes & wanted.diary))
    status = each.value(11, 1)
    if not codes & wanted.pressures:
        _refuse_other_rate(each, codes, wanted, value)
        attempt.statuses += [status] if status in ("W", "D") else []
        attempt.cells.update(dict.fromkeys(codes, "" if status == "X" else value))
        return
    attempt.cells.update(dict.fromkeys(codes, value))
    attempt.statuses.append(status)
    if unit := each.value(6, 1):
        units.setdefault(unit, each.line)
    elif value:
        raise Held(HoldReason.UNITS_DOUBTFUL, f"segment {each.line} states no unit")


def _value(each: Segment, pressure: bool, diary: bool) -> str:
    """OBX-5 as text: of a coded diary entry its words. Raises Held for a limit or a number of several parts."""
    kind, value = each.value(2, 1), each.value(5, 1)
    if kind == "SN":
        limit, value = value, each.value(5, 2)
        if limit not in ("", "=") or each.goes_on(5, 2):
            raise Held(HoldReason.VALUE_UNREADABLE, f"segment {each.line}: a limit or range instead of a value")
    elif (kind == "NM" or pressure) and each.goes_on(5, 1):
        raise Held(HoldReason.VALUE_UNREADABLE, f"segment {each.line}: a number of several parts")
    if diary and kind in ("CE", "CWE", "CNE"):
        return each.value(5, 9) or each.value(5, 2) or value
    return value


def _refuse_other_rate(each: Segment, codes: frozenset[str], wanted: Wanted, value: str) -> None:
    """A heart rate is per minute, as its code says too; one that states another unit is something else."""
    units = {folded(each.value(6, part)) for part in (1, 2, 4, 5)} - {""}
    if wanted.rate in codes and value and units and not units & _PER_MINUTE:
        raise Held(HoldReason.UNITS_DOUBTFUL, f"segment {each.line} has a heart rate that is not per minute")
