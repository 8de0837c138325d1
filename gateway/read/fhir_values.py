"""Values of one FHIR R4 Observation and of its components -> cells by code."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from gateway.mapping.source import SourceMap
from gateway.mapping.source_format import Fhir
from gateway.model import HoldReason
from gateway.read.extract import folded
from gateway.read.held import Held
from gateway.read.tree import named

Resource = Mapping[str, Any]
NOTE = "note"
"""column of Observation.note"""
_PER_MINUTE = ("/min", "{beats}/min", "{beat}/min", "1/min")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Codes that the map names, folded: all of them, and which of them are pressures, the heart rate, the diary.
    `systems`: the code systems that count; none means any.
    """

    all: frozenset[str]
    pressures: frozenset[str]
    rate: str
    diary: frozenset[str]
    systems: frozenset[str]

    def codes(self, part: Resource) -> frozenset[str]:
        """Those of the codes that an Observation or a component states."""
        codings = part.get("code", {}).get("coding", [])
        counted = (each for each in codings if not self.systems or each.get("system") in self.systems)
        return self.all & {folded(each.get("code", "")) for each in counted}


def wanted_of(source: SourceMap, form: Fhir) -> Wanted:
    """What a map looks for."""
    readings = source.readings
    places = (readings.systolic, readings.diastolic)
    return Wanted(
        all=frozenset(folded(code) for code in named(source, "column", source.signs.columns)),
        pressures=frozenset(folded(each.column or "") for each in places),
        rate=folded(readings.heart_rate.column or "") if readings.heart_rate else "",
        diary=frozenset(folded(each.column) for each in readings.diary if each.column is not None),
        systems=frozenset(form.code_systems),
    )


def cells_of(number: int, resource: Resource, wanted: Wanted, units: dict[str, int]) -> Iterator[tuple[str, str]]:
    """Values by code, of the Observation itself and of its components. Units of pressures are noted,
    and a heart rate must be per minute.
    """
    taken: set[str] = set()
    for part in (resource, *resource.get("component", [])):
        for code in sorted(wanted.codes(part)):
            if code in taken:
                raise Held(HoldReason.FACTS_DISAGREE, f"entry {number} has two values of one code")
            taken.add(code)
            if code in wanted.diary:
                yield code, _said(number, part)
                continue
            value, unit = _quantity(number, part)
            if value and code != wanted.rate:
                units.setdefault(unit, number)
            elif value and unit not in _PER_MINUTE:
                raise Held(HoldReason.UNITS_DOUBTFUL, f"entry {number} has a heart rate that is not per minute")
            yield code, value


def note_of(resource: Resource) -> dict[str, str]:
    """What stands in the notes of an Observation."""
    said = "; ".join(str(each["text"]).strip() for each in resource.get("note", []) if each.get("text"))
    return {NOTE: said} if said else {}


def _said(number: int, part: Resource) -> str:
    """Words of an entry of the diary. Raises Held for a value that is neither text nor code."""
    if "dataAbsentReason" in part:
        return ""
    if isinstance(text := part.get("valueString"), str):
        return text
    coded = part.get("valueCodeableConcept")
    if coded is None:
        raise Held(HoldReason.VALUE_UNREADABLE, f"entry {number} has a diary entry that is neither text nor code")
    codings = coded.get("coding", [])
    named_by = [coded.get("text"), *(each.get("display") or each.get("code") for each in codings)]
    return next((str(each) for each in named_by if each), "")


def _quantity(number: int, part: Resource) -> tuple[str, str]:
    """Number as it stands and UCUM unit; blanks where the value is absent. Raises Held for any other kind."""
    if "dataAbsentReason" in part:
        return "", ""
    quantity = part.get("valueQuantity")
    if quantity is None or "comparator" in quantity or "value" not in quantity:
        raise Held(HoldReason.VALUE_UNREADABLE, f"entry {number} has a value that is no plain quantity")
    unit = quantity.get("code") or quantity.get("unit")
    if not unit:
        raise Held(HoldReason.UNITS_DOUBTFUL, f"entry {number} states no unit")
    return str(quantity["value"]), str(unit)
