"""FHIR R4 Bundles of Observations (HL7 FHIR R4 4.0.1; LOINC 85354-9 with its components)."""

import json
from typing import Any

import pytest

from gateway.model import HoldReason
from gateway.read import read
from tests.unit.read.layouts import SITE, lines, reason, recorded
from tests.unit.read.told import shipped

(MAP,) = shipped("fhir-bundle")
NUMBER = {"system": "https://example.org/a", "value": "0042"}


def coded(code: str, value: Any, unit: str = "mm[Hg]") -> dict[str, Any]:
    quantity = {"valueQuantity": {"value": value, "code": unit}}
    return {"code": {"coding": [{"system": "http://loinc.org", "code": code}]}, **quantity}


def observed(*parts: dict[str, Any], at: str = "2026-03-03T09:10:00Z", **more: Any) -> dict[str, Any]:
    return {
        "resourceType": "Observation",
        "status": "final",
        "code": {"coding": [{"code": "85354-9"}]},
        "subject": {"identifier": NUMBER},
        "effectiveDateTime": at,
        "component": list(parts),
        **more,
    }


PAIR = (coded("8480-6", 131), coded("8462-4", 82.5))
RATE = {**observed(), **coded("8867-4", 71, "/min")}
READ = "2026-03-03T09:10:00+00:00 measured 131.0/82.5 mean - pulse 71.0 scheduled"


def bundle(*resources: dict[str, Any]) -> bytes:
    return json.dumps({"resourceType": "Bundle", "entry": [{"resource": each} for each in resources]}).encode()


def test_a_heart_rate_as_component_or_as_an_observation_of_its_own() -> None:
    assert lines(bundle(observed(*PAIR, coded("8867-4", 71, "/min"))), MAP) == [READ]
    assert lines(bundle(observed(*PAIR), RATE), MAP) == [READ]
    assert lines(bundle(RATE, observed(*PAIR)), MAP) == [READ]


def test_the_identifier_of_a_logical_subject_stays_text() -> None:
    found = recorded(bundle(observed(*PAIR)), MAP).person.identifier
    assert (found.system, found.value) == ("https://example.org/a", "0042")


def test_one_of_several_identifiers_is_chosen_by_its_system() -> None:
    several = [{"system": "https://example.org/b", "value": "B7"}, NUMBER]
    patient = {"resourceType": "Patient", "id": "p", "identifier": several}
    content = bundle(patient, observed(*PAIR, subject={"reference": "Patient/p"}))
    assert reason(content, MAP) is HoldReason.FACTS_DISAGREE
    chosen = MAP.model_copy(
        update={"format": MAP.format.model_copy(update={"identifier_system": "https://example.org/a"})}
    )
    assert read(content, "a.json", [chosen], SITE).person.identifier.value == "0042"


@pytest.mark.parametrize(
    ("resources", "expected"),
    [
        (
            [observed(*PAIR), observed(*PAIR, subject={"identifier": {**NUMBER, "value": "1"}})],
            HoldReason.FACTS_DISAGREE,
        ),
        ([observed(*PAIR, subject={"reference": "Patient/9"})], HoldReason.IDENTIFIER_MISSING),
        ([observed(*PAIR, status="entered-in-error")], HoldReason.VALUE_UNREADABLE),
        ([observed(*PAIR, status="preliminary")], HoldReason.VALUE_UNREADABLE),
        ([observed(*PAIR, PAIR[0])], HoldReason.FACTS_DISAGREE),
        ([observed(*PAIR), RATE, RATE], HoldReason.FACTS_DISAGREE),
        ([observed(*PAIR), {**RATE, **coded("8867-4", 1.2, "Hz")}], HoldReason.UNITS_DOUBTFUL),
        ([observed(PAIR[0], coded("8462-4", 10.9, "kPa"))], HoldReason.FACTS_DISAGREE),
        ([observed(PAIR[0], coded("8462-4", 80, ""))], HoldReason.UNITS_DOUBTFUL),
        ([observed(*PAIR, modifierExtension=[{"url": "urn:x"}])], HoldReason.FILE_UNREADABLE),
        ([observed(*PAIR, at="2026-03-03")], HoldReason.TIME_UNREADABLE),
        ([observed(*PAIR, subject={"identifier": {"system": "a", "value": {"b": 1}}})], HoldReason.FILE_UNREADABLE),
        ([RATE], HoldReason.NO_MAP),
    ],
)
def test_a_bundle_that_cannot_be_trusted_is_held(resources, expected) -> None:
    assert reason(bundle(*resources), MAP) is expected


def test_a_limit_is_no_value() -> None:
    limit = {**PAIR[0], "valueQuantity": {**PAIR[0]["valueQuantity"], "comparator": ">"}}
    assert reason(bundle(observed(limit, PAIR[1])), MAP) is HoldReason.VALUE_UNREADABLE


def test_a_heart_rate_in_error_or_of_another_time_is_left_out_and_named() -> None:
    wrong = {**RATE, "status": "entered-in-error"}
    elsewhere = {**RATE, "effectiveDateTime": "2026-03-03T09:11:00Z"}
    found = recorded(bundle(observed(*PAIR), wrong, elsewhere), MAP)
    assert found.readings[0].heart_rate is None
    assert found.source.remarks == ("entries of the Bundle (rows 2, 3): belong to no reading, not used",)


def test_one_absent_pressure_stays_absent() -> None:
    absent = {"code": PAIR[1]["code"], "dataAbsentReason": {"coding": [{"code": "error"}]}}
    assert lines(bundle(observed(PAIR[0], absent)), MAP) == [
        "2026-03-03T09:10:00+00:00 measured 131.0/- mean - pulse - scheduled"
    ]


OTHER = {"system": "https://example.org/a", "value": "0043"}


def patient(*identifiers: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"resourceType": "Patient", "id": "p", "identifier": list(identifiers), **more}


def test_a_heart_rate_of_another_subject_is_not_joined() -> None:
    others = ({}, {"reference": "Patient/p"}, {"identifier": {**NUMBER, "system": "https://example.org/b"}})
    for subject in others:
        found = recorded(bundle(observed(*PAIR), {**RATE, "subject": subject}), MAP)
        assert found.readings[0].heart_rate is None
        assert found.source.remarks == ("entries of the Bundle (row 2): belong to no reading, not used",)


def test_two_patients_with_one_id_hold_the_file() -> None:
    by_id = {"reference": "Patient/p"}
    content = bundle(patient(NUMBER), patient(OTHER), observed(*PAIR, subject=by_id))
    assert reason(content, MAP) is HoldReason.FACTS_DISAGREE
    entries = [
        {"fullUrl": "urn:uuid:1", "resource": patient(each, id=name)} for each, name in ((NUMBER, "a"), (OTHER, "b"))
    ]
    entries.append({"resource": observed(*PAIR, subject={"reference": "urn:uuid:1"})})
    content = json.dumps({"resourceType": "Bundle", "entry": entries}).encode()
    assert reason(content, MAP) is HoldReason.FACTS_DISAGREE


def test_patients_without_fullurl_and_id_do_not_disagree() -> None:
    nameless = {"resourceType": "Patient"}
    assert lines(
        bundle(nameless, nameless, patient(NUMBER), observed(*PAIR, subject={"reference": "Patient/p"})), MAP
    )


@pytest.mark.parametrize(
    "subject",
    [{}, {"reference": "Patient/p"}, {"identifier": {"system": "https://example.org/a", "value": " "}}],
)
def test_an_observation_that_names_nobody_never_joins_another_person(subject) -> None:
    second = observed(*PAIR, at="2026-03-03T09:40:00Z", subject=subject)
    content = bundle(patient({"system": "https://example.org/a"}), observed(*PAIR), second)
    assert reason(content, MAP) is HoldReason.IDENTIFIER_MISSING


def test_the_system_is_that_of_the_identifier_with_the_value() -> None:
    by_id = {"reference": "Patient/p"}
    empty = {"system": "https://example.org/b"}
    content = bundle(patient(empty, NUMBER), observed(*PAIR, subject=by_id))
    assert recorded(content, MAP).person.identifier.system == "https://example.org/a"
    content = bundle(patient(empty, {"value": "0042"}), observed(*PAIR, subject=by_id))
    assert reason(content, MAP) is HoldReason.IDENTIFIER_SYSTEM_UNKNOWN


def posture(**value: Any) -> dict[str, Any]:
    return {"code": {"coding": [{"system": "http://loinc.org", "code": "8361-8"}]}, **value}


def said(*resources: dict[str, Any]) -> list[str]:
    notes = recorded(bundle(*resources), MAP).diary.notes
    return [f"{note.at:%H:%M} {note.kind}: {note.text}" for note in notes]


SITTING = {"valueCodeableConcept": {"coding": [{"code": "33586001", "display": "Sitting position"}]}}


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (SITTING, "Sitting position"),
        ({"valueCodeableConcept": {"coding": [{"code": "33586001"}], "text": "in a chair"}}, "in a chair"),
        ({"valueCodeableConcept": {"coding": [{"code": "33586001"}]}}, "33586001"),
        ({"valueString": "sitting"}, "sitting"),
    ],
)
def test_a_posture_is_an_entry_of_the_diary(value: dict[str, Any], text: str) -> None:
    assert said(observed(*PAIR, posture(**value))) == [f"09:10 posture: {text}"]
    assert said(observed(*PAIR), {**observed(), **posture(**value)}) == [f"09:10 posture: {text}"]


def test_a_posture_at_a_time_without_a_reading_is_no_attempt() -> None:
    alone = {**observed(at="2026-03-03T10:00:00Z"), **posture(**SITTING)}
    recording = recorded(bundle(observed(*PAIR), alone), MAP)
    assert len(recording.readings) == 1
    assert said(observed(*PAIR), alone) == ["10:00 posture: Sitting position"]


def test_a_posture_that_is_absent_or_in_error_is_no_entry() -> None:
    assert said(observed(*PAIR, posture(dataAbsentReason={"coding": [{"code": "unknown"}]}))) == []
    assert said(observed(*PAIR), {**observed(status="entered-in-error"), **posture(**SITTING)}) == []


@pytest.mark.parametrize(
    "subject", [{"identifier": {"system": "https://example.org/a", "value": "0043"}}, {"reference": "Patient/other"}]
)
def test_a_posture_of_another_person_holds_the_file(subject: dict[str, Any]) -> None:
    other = {**observed(at="2026-03-03T10:00:00Z", subject=subject), **posture(**SITTING)}
    assert reason(bundle(observed(*PAIR), other), MAP) in (
        HoldReason.FACTS_DISAGREE,
        HoldReason.IDENTIFIER_MISSING,
    )


def test_a_posture_that_is_a_number_holds_the_file() -> None:
    content = bundle(observed(*PAIR, posture(valueQuantity={"value": 1, "code": "1"})))
    assert reason(content, MAP) is HoldReason.VALUE_UNREADABLE


def test_notes_of_a_reading_are_kept_with_it() -> None:
    content = bundle(observed(*PAIR, note=[{"text": "on the stairs"}, {"text": "out of breath "}]))
    assert recorded(content, MAP).readings[0].note == "on the stairs; out of breath"


def test_the_same_code_of_another_system_is_another_code() -> None:
    other = coded("8480-6", 250)
    other["code"]["coding"][0]["system"] = "https://example.org/codes"
    assert lines(bundle(observed(other, *PAIR)), MAP) == lines(bundle(observed(*PAIR)), MAP)
