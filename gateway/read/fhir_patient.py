"""Whose Observations they are: the Patient in the Bundle, or the identifier that stands in the subject itself."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

from gateway.model import HoldReason
from gateway.read.extract import Fact, seen
from gateway.read.held import Held


def patient_facts(
    entries: Sequence[tuple[int, str, Mapping[str, Any]]], readings: Collection[int], system: str | None
) -> Iterator[Fact]:
    """Facts of every subject of the readings; two persons give two differing facts, which hold the file later."""
    patients = _patients(entries)
    told: set[int] = set()
    for number, _, resource in entries:
        if number not in readings:
            continue
        subject = resource.get("subject", {})
        reference = subject.get("reference")
        if reference in patients:
            place, patient = patients[reference]
            if place not in told:
                told.add(place)
                yield from _of_patient(place, patient, system)
        elif "identifier" in subject:
            yield from _identifiers(number, [subject["identifier"]], system)
        else:
            raise Held(HoldReason.IDENTIFIER_MISSING, f"entry {number} has a subject that the Bundle does not hold")


def _patients(
    entries: Sequence[tuple[int, str, Mapping[str, Any]]],
) -> dict[str, tuple[int, Mapping[str, Any]]]:
    """Patients by fullUrl and by id. Raises Held when two entries answer to one of them."""
    others = {url for _, url, resource in entries if url and resource.get("resourceType") != "Patient"}
    found: dict[str, tuple[int, Mapping[str, Any]]] = {}
    for number, url, resource in entries:
        if resource.get("resourceType") != "Patient":
            continue
        name = resource.get("id")
        for key in {url, f"Patient/{name}" if name else ""} - {""}:
            if key in found or key in others:
                raise Held(HoldReason.FACTS_DISAGREE, f"entry {number} has the name of another entry")
            found[key] = (number, resource)
    return found


def _of_patient(number: int, patient: Mapping[str, Any], system: str | None) -> Iterator[Fact]:
    yield from _identifiers(number, patient.get("identifier", []), system)
    names = [each for each in patient.get("name", []) if each.get("use", "official") in ("official", "usual")]
    for name in names[:1]:
        yield Fact(number, "family_name", (_text(name.get("family", "")),))
        yield Fact(number, "given_name", (" ".join(map(_text, name.get("given", []))),))
    yield Fact(number, "birth_date", (_text(patient.get("birthDate", "")),))
    yield Fact(number, "sex", (_text(patient.get("gender", "")),))


def _identifiers(number: int, found: Sequence[Mapping[str, Any]], system: str | None) -> Iterator[Fact]:
    """Identifiers in use, system and value always of the same one. Raises Held for none, and for one that
    does not say its system.
    """
    used = [
        each
        for each in found
        if each.get("use") != "old"
        and (system is None or each.get("system") == system)
        and seen(_text(each.get("value", "")))
    ]
    if not used:
        raise Held(HoldReason.IDENTIFIER_MISSING, f"entry {number} says no identifier")
    for each in used:
        if not seen(_text(each.get("system", ""))):
            raise Held(HoldReason.IDENTIFIER_SYSTEM_UNKNOWN, f"entry {number}")
        yield Fact(number, "identifier", (each["value"],))
        yield Fact(number, "identifier_system", (each["system"],))


def _text(value: object) -> str:
    """A text. Raises TypeError for a group in its place, which FHIR does not allow."""
    if not isinstance(value, str):
        raise TypeError
    return value
