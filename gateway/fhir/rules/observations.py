"""Rules on Observations: the invariants of R4 (obs-*, vs-*), the profiles bp and heartrate, and what a mean may be.

Sources: FHIR R4 4.0.1, Observation and its profiles vitalsigns, bp, heartrate (profiles-others.json).
"""

from collections.abc import Iterator, Mapping
from typing import Any

from gateway.fhir.rules.walking import Fault, mappings

LOINC = "http://loinc.org"
CATEGORY = "http://terminology.hl7.org/CodeSystem/observation-category"
BP, SYSTOLIC, DIASTOLIC, HEART_RATE = "85354-9", "8480-6", "8462-4", "8867-4"
SPOT = frozenset({BP, SYSTOLIC, DIASTOLIC, "8478-0"})
"""Codes of one reading at one moment; on a mean they would be drawn as a reading."""

VITAL_UNITS = frozenset({"%", "cm", "[in_i]", "kg", "g", "[lb_av]", "Cel", "[degF]", "mm[Hg]", "/min", "kg/m2", "m2"})
"""Value set ucum-vitals-common, required in every component of a vital-signs profile."""

CODED = frozenset({"valueCodeableConcept", "valueString"})
"""Kinds of value for which that binding leaves nothing to say."""


def observation_faults(body: Mapping[str, Any]) -> Iterator[Fault]:
    """All faults of one Observation; nothing for another type."""
    if body.get("resourceType") != "Observation":
        return
    yield from _effective(body)
    yield from _values(body)
    yield from _ranges(body)
    codes = loinc_of(body.get("code"))
    if BP in codes:
        yield from _panel(body, codes)
    elif HEART_RATE in codes:
        yield from _heart_rate(body)
    else:
        yield from _mean(body, codes)


def loinc_of(concept: Any) -> frozenset[str]:
    """LOINC codes of a CodeableConcept."""
    codings = mappings(concept.get("coding")) if isinstance(concept, Mapping) else []
    return frozenset(str(coding.get("code")) for coding in codings if coding.get("system") == LOINC)


def unit_of(part: Mapping[str, Any]) -> str:
    """UCUM code of the value of an Observation or component, "" for none."""
    value = part.get("valueQuantity")
    return str(value.get("code")) if isinstance(value, Mapping) else ""


def _effective(body: Mapping[str, Any]) -> Iterator[Fault]:
    if len([key for key in body if key.startswith("effective")]) != 1:
        yield Fault("effective[x]", "must stand exactly once")


def _values(body: Mapping[str, Any]) -> Iterator[Fault]:
    """obs-6, obs-7, vs-2, vs-3: a value or the reason why there is none, never both, never two values."""
    for path, part in _parts(body):
        values = [key for key in part if key.startswith("value")]
        if len(values) > 1:
            yield Fault(path, "has more than one value")
        if values and "dataAbsentReason" in part:
            yield Fault(path, "has a value and a reason why there is none (obs-6)")
        if not values and "dataAbsentReason" not in part and "component" not in part:
            yield Fault(path, "has neither value nor reason (vs-2, vs-3)")
    own = _codings(body.get("code"))
    if any(key.startswith("value") for key in body):
        for path, part in list(_parts(body))[1:]:
            if own & _codings(part.get("code")):
                yield Fault(path, "repeats the code of the whole (obs-7)")


def _ranges(body: Mapping[str, Any]) -> Iterator[Fault]:
    for path, part in _parts(body):
        for index, limits in enumerate(mappings(part.get("referenceRange"))):
            place = f"{path}.referenceRange[{index}]".removeprefix(".")
            if not {"low", "high", "text"} & limits.keys():
                yield Fault(place, "needs low, high or text (obs-3)")
            if "text" not in limits:
                yield Fault(place, "must name the guideline")


def _panel(body: Mapping[str, Any], codes: frozenset[str]) -> Iterator[Fault]:
    if codes != {BP}:
        yield Fault("code", "may hold no other LOINC code beside 85354-9")
    yield from _vital_sign(body)
    if any(key.startswith("value") for key in body):
        yield Fault("value[x]", "may not stand on the panel (bp)")
    for code, name in ((SYSTOLIC, "systolic"), (DIASTOLIC, "diastolic")):
        found = [part for part in mappings(body.get("component")) if code in loinc_of(part.get("code"))]
        if len(found) != 1:
            yield Fault("component", f"needs exactly one {name} pressure (bp)")
        for part in found:
            if "valueQuantity" in part and unit_of(part) != "mm[Hg]":
                yield Fault("component", f"gives the {name} pressure not in mm[Hg] (bp)")


def _heart_rate(body: Mapping[str, Any]) -> Iterator[Fault]:
    yield from _vital_sign(body)
    if "valueQuantity" in body and unit_of(body) != "/min":
        yield Fault("valueQuantity", "is not in /min (heartrate)")


def _vital_sign(body: Mapping[str, Any]) -> Iterator[Fault]:
    if "effectiveDateTime" not in body:
        yield Fault("effectiveDateTime", "is missing: a reading has one moment")
    if "vital-signs" not in _categories(body):
        yield Fault("category", "must be vital-signs (VSCat)")
    for index, part in enumerate(mappings(body.get("component"))):
        if "valueQuantity" in part and unit_of(part) not in VITAL_UNITS:
            yield Fault(f"component[{index}].valueQuantity", "is not in a unit of ucum-vitals-common")
        if CODED & part.keys():
            yield Fault(f"component[{index}].value[x]", "is coded, but not by a unit of ucum-vitals-common")


def _mean(body: Mapping[str, Any], codes: frozenset[str]) -> Iterator[Fault]:
    if "effectivePeriod" not in body:
        yield Fault("effectivePeriod", "is missing: a result is of a span of time")
    if not _categories(body) & {"vital-signs", "procedure"}:
        yield Fault("category", "is neither vital-signs nor procedure")
    for path, part in _parts(body):
        if SPOT & loinc_of(part.get("code")):
            yield Fault(path or "code", "gives a mean the code of a single reading")
    wanted = {"97844-5": ("8490-5", "8472-3"), "96607-7": ("96608-5", "96609-3")}
    for code in codes & wanted.keys():
        for part_code in wanted[code]:
            found = [part for part in mappings(body.get("component")) if part_code in loinc_of(part.get("code"))]
            if len(found) != 1:
                yield Fault("component", f"needs exactly one {part_code} beside {code}")


def _parts(body: Mapping[str, Any]) -> Iterator[tuple[str, Mapping[str, Any]]]:
    yield "", body
    for index, part in enumerate(mappings(body.get("component"))):
        yield f"component[{index}]", part


def _codings(concept: Any) -> frozenset[tuple[str, str]]:
    codings = mappings(concept.get("coding")) if isinstance(concept, Mapping) else []
    return frozenset((str(coding.get("system")), str(coding.get("code"))) for coding in codings)


def _categories(body: Mapping[str, Any]) -> frozenset[str]:
    return frozenset(
        str(coding.get("code"))
        for category in mappings(body.get("category"))
        for coding in mappings(category.get("coding"))
        if coding.get("system") == CATEGORY
    )
