"""A FHIR R4 Bundle of Observations -> facts and rows (HL7 FHIR R4 4.0.1: Bundle, Observation, Patient).

One attempt is an Observation with the pressures as components (LOINC 85354-9). A heart rate may be a component too,
or an Observation of its own with the same time.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from gateway.mapping.source import SourceMap
from gateway.mapping.source_format import Fhir
from gateway.model import HoldReason
from gateway.read.extract import Extract, Fact, Row
from gateway.read.fhir_patient import patient_facts
from gateway.read.fhir_values import NOTE, Resource, Wanted, cells_of, note_of, wanted_of
from gateway.read.grid import MOST_ROWS
from gateway.read.held import Held, rows_named
from gateway.read.opened import Opened
from gateway.read.tree import shows_signs
from gateway.read.tree_json import loaded, looks_like_json

Entry = tuple[int, str, Resource]
"""Number of the entry from 1, its fullUrl, its resource."""

_FEATURES = ("modifierExtension", "implicitRules")
CERTAIN = ("final", "amended", "corrected")
"""status of an Observation that may be used"""


def claims(file: Opened, source: SourceMap, form: Fhir) -> bool:
    """Is it a Bundle with the signs of the map? Raises Held for hostile or damaged JSON."""
    if not looks_like_json(file.content):
        return False
    root, _ = loaded(file)
    bundle = isinstance(root, dict) and root.get("resourceType") == "Bundle"
    return bundle and shows_signs(_extract(root, source, form), source)


def extract(file: Opened, source: SourceMap, form: Fhir) -> tuple[Extract, str]:
    """Facts and rows, and the encoding. `Row.number` is the entry of the Bundle."""
    root, encoding = loaded(file)
    return _extract(root, source, form), encoding


def _extract(root: Any, source: SourceMap, form: Fhir) -> Extract:
    try:
        return _outline(list(_entries(root)), source, form)
    except (AttributeError, TypeError, KeyError):
        raise Held(HoldReason.FILE_UNREADABLE, "the Bundle is not built as FHIR R4 says") from None


def _entries(root: Any) -> Iterator[Entry]:
    for number, entry in enumerate(root.get("entry", []), 1):
        resource = entry.get("resource", {})
        if any(key in resource for key in _FEATURES):
            raise Held(HoldReason.FILE_UNREADABLE, f"entry {number} changes the meaning of what it says")
        yield number, entry.get("fullUrl", ""), resource


def _outline(entries: Sequence[Entry], source: SourceMap, form: Fhir) -> Extract:
    wanted = wanted_of(source, form)
    observations = [each for each in entries if each[2].get("resourceType") == "Observation"]
    rows: list[Row] = []
    units: dict[str, int] = {}
    alone: list[Entry] = []
    others: list[int] = []
    for number, url, resource in observations:
        cells = dict(cells_of(number, resource, wanted, units))
        if wanted.pressures & cells.keys():
            noted = note_of(resource) if NOTE in wanted.all else {}
            state = {"time": _time(resource), "status": _status(resource, cells, wanted.pressures)}
            rows.append(Row(number, {**cells, **noted, **state}))
        elif cells:
            alone.append((number, url, cells))
        else:
            others.append(number)
    if len(rows) > MOST_ROWS:
        raise Held(HoldReason.FILE_TOO_LARGE, f"more than {MOST_ROWS} readings")
    resources = {number: resource for number, _, resource in observations}
    left = _joined(rows, alone, resources)
    entry_rows = _entries_alone(left, resources, wanted)
    left = [number for number in left if number not in entry_rows]
    rows += entry_rows.values()
    facts = [*patient_facts(entries, [row.number for row in rows], form.identifier_system)]
    facts += [Fact(number, "unit", (unit,)) for unit, number in units.items()]
    columns = dict.fromkeys(name for row in rows for name in row.cells)
    unused = sorted((*others, *left))
    remarks = (f"entries of the Bundle ({rows_named(unused)}): belong to no reading, not used",) if unused else ()
    return Extract(
        facts=tuple(facts), columns=tuple(columns), rows=tuple(rows), remarks=remarks, apart=frozenset(entry_rows)
    )


def _entries_alone(left: Sequence[int], resources: Mapping[int, Resource], wanted: Wanted) -> dict[int, Row]:
    """Entries of the diary at a time without a reading."""
    found: dict[int, Row] = {}
    for number in left:
        resource = resources[number]
        cells = dict(cells_of(number, resource, wanted, {}))
        if cells.keys() <= wanted.diary and resource.get("status") in CERTAIN and _time(resource):
            found[number] = Row(number, {**cells, "time": _time(resource), "status": ""})
    return found


def _time(resource: Resource) -> str:
    return str(resource.get("effectiveDateTime") or resource.get("effectiveInstant") or "")


def _status(resource: Resource, cells: Mapping[str, str], pressures: frozenset[str]) -> str:
    """The status of the Observation; when it stands and no pressure does, the reason of the absence."""
    status = str(resource.get("status", ""))
    if status not in CERTAIN or any(cells.get(code) for code in pressures):
        return status or "no status"
    for part in (resource, *resource.get("component", [])):
        for coding in part.get("dataAbsentReason", {}).get("coding", []):
            return str(coding.get("code", "unknown"))
    return "unknown"


def _joined(rows: list[Row], alone: Sequence[Entry], resources: Mapping[int, Resource]) -> list[int]:
    """Put values that stand in Observations of their own to the one reading of the same time and subject; tell
    which are left.
    """
    places: dict[tuple[str, str], list[int]] = {}
    for i, row in enumerate(rows):
        places.setdefault(_time_and_subject(resources[row.number]), []).append(i)
    left: list[int] = []
    for number, _, cells in alone:
        resource = resources[number]
        at = places.get(_time_and_subject(resource), [])
        if len(at) != 1 or resource.get("status") not in CERTAIN:
            left.append(number)
            continue
        row = rows[at[0]]
        if row.cells.keys() & cells.keys():
            raise Held(HoldReason.FACTS_DISAGREE, f"entry {number} is a second value of one time")
        rows[at[0]] = Row(row.number, {**row.cells, **cells})
    return left


def _time_and_subject(resource: Resource) -> tuple[str, str]:
    """What tells to which reading a value belongs: the time, and the reference or else the identifier."""
    subject = resource.get("subject", {})
    identifier = subject.get("identifier", {})
    name = subject.get("reference") or [identifier.get("system"), identifier.get("value")]
    return _time(resource), repr(name)
