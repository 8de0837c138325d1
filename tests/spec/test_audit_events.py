"""AuditEvents against the rules of IHE BALP, written here from its profiles.

Source: IHE ITI Basic Audit Log Patterns (BALP) 1.1.4, github.com/IHE/ITI.BasicAudit, input/fsh/PatientCreate.fsh,
PatientUpdate.fsh, PatientQuery.fsh. The package is not to be had offline, so no judge looks at the claims; the judges
of tests/conformance look at everything that R4 itself asks for.
"""

from base64 import b64decode
from datetime import UTC, datetime

import pytest

from gateway.fhir.traces import BALP, Failure, Interaction, Talkers, batch, failed, looked_up, stored
from gateway.model import Filed
from tests.unit.fhir.building import STORE_KEY, all_codes

AT = datetime(2026, 3, 6, 9, 30, tzinfo=UTC)
BASE = "https://record.example/fhir"
PATIENT = "Patient/p-7"
NHS = "https://fhir.nhs.uk/Id/nhs-number"
DCM = "http://dicom.nema.org/resources/ontology/DCM"
TYPE = "http://terminology.hl7.org/CodeSystem/audit-entity-type"
ROLE = "http://terminology.hl7.org/CodeSystem/object-role"


def talkers():
    return Talkers(codes=all_codes(), store_key=STORE_KEY, base=BASE, host="gateway.example")


def a_row(kind="Observation", version="1", content="0" * 64):
    return Filed(
        resource_id="r-1",
        resource_type=kind,
        server_id="s-1",
        version=version,
        content_hash=content,
        status="final",
    )


def created(kind="Observation", patient=PATIENT, **changes):
    return stored(talkers(), a_row(kind, **changes), Interaction.CREATE, patient, AT)


def updated(kind="Observation"):
    return stored(talkers(), a_row(kind, version="2"), Interaction.UPDATE, PATIENT, AT)


def every_success():
    return {
        "create": created(),
        "create of a report": created("DiagnosticReport"),
        "create of a device": created("Device"),
        "update": updated(),
        "update of a device": updated("Device"),
        "query": looked_up(talkers(), NHS, PATIENT, AT),
        "query without a match": looked_up(talkers(), NHS, None, AT),
    }


def every_failure():
    about = ("r" * 32, NHS)
    return {
        f"{interaction.value} {failure.name}": failed(talkers(), interaction, about, patient, failure, "a-code", AT)
        for interaction, patient in (
            (Interaction.CREATE, PATIENT),
            (Interaction.UPDATE, PATIENT),
            (Interaction.QUERY, None),
        )
        for failure in Failure
    }


def entities(event, kind):
    return [item for item in event["entity"] if item["type"] == coded(TYPE, kind)]


def coded(system, code):
    return {"system": system, "code": code, "display": all_codes().approved()[system, code]}


@pytest.mark.parametrize("name", [*every_success(), *every_failure()])
def test_what_every_profile_asks_for(name):
    """type rest, recorded 1..1, agents client and server once each with who and network and without media."""
    event = (every_success() | every_failure())[name]
    assert event["type"]["code"] == "rest"
    assert event["type"]["system"] == "http://terminology.hl7.org/CodeSystem/audit-event-type"
    assert event["recorded"] == "2026-03-06T09:30:00+00:00"
    for role in ("110153", "110152"):
        (agent,) = [item for item in event["agent"] if item["type"]["coding"][0]["code"] == role]
        assert agent["type"]["coding"][0]["system"] == DCM
        assert agent["who"] and agent["network"]["address"]
        assert "media" not in agent
    assert [item["requestor"] for item in event["agent"]] == [True, False]  # R4: one initiator
    assert event["source"]["observer"]


@pytest.mark.parametrize(
    ("event", "action", "subtype", "profile"),
    [
        (created(), "C", "create", "PatientCreate"),
        (created("Device"), "C", "create", "Create"),
        (updated(), "U", "update", "PatientUpdate"),
        (updated("Device"), "U", "update", "Update"),
        (looked_up(talkers(), NHS, PATIENT, AT), "E", "search-type", "PatientQuery"),
        (looked_up(talkers(), NHS, None, AT), "E", "search-type", "Query"),
    ],
    ids=["create", "create device", "update", "update device", "query", "query, nobody"],
)
def test_success_claims_its_profile(event, action, subtype, profile):
    """action C, U, E; subtype of restful-interaction; outcome 0."""
    assert event["meta"]["profile"] == [BALP + profile]
    assert (event["action"], event["outcome"]) == (action, "0")
    assert [(item["system"], item["code"]) for item in event["subtype"]] == [
        ("http://hl7.org/fhir/restful-interaction", subtype)
    ]


@pytest.mark.parametrize("name", every_success())
def test_the_person_is_one_entity_and_only_the_records_own_patient(name):
    """entity patient 1..1: type 1, role 1, what only Reference(Patient); none where the resource has no subject."""
    event = every_success()[name]
    wanted = event["meta"]["profile"][0].startswith(f"{BALP}Patient")
    patients = entities(event, "1")
    assert len(patients) == wanted
    for item in patients:
        assert item["role"] == coded(ROLE, "1")
        assert item["what"] == {"reference": f"{BASE}/{PATIENT}", "type": "Patient"}


@pytest.mark.parametrize("event", [created(), created("Device"), updated(), created("DocumentReference")])
def test_data_is_one_entity_with_its_version(event):
    """entity data 1..1: type 2, role of the REST object roles, what 1..1; on an update the version."""
    (data,) = entities(event, "2")
    assert data["role"]["code"] in ("3", "4")
    assert data["what"]["reference"].startswith(f"{BASE}/")
    assert "/_history/" in data["what"]["reference"]


def test_a_query_holds_what_was_asked_but_never_the_number():
    """entity query 1..1: type 2, role 24, query 1..1, no what, lifecycle or detail."""
    (query,) = entities(looked_up(talkers(), NHS, PATIENT, AT), "2")
    assert query["role"] == coded(ROLE, "24")
    assert b64decode(query["query"]) == f"Patient?identifier={NHS}|".encode()
    assert not {"what", "lifecycle", "detail"} & query.keys()


@pytest.mark.parametrize("name", every_failure())
def test_a_failure_claims_nothing_and_brings_an_outcome(name):
    """BALP: a failure may follow the pattern, but would not have outcome 0 and should have an OperationOutcome."""
    event = every_failure()[name]
    assert "profile" not in event["meta"]
    assert event["outcome"] in ("4", "8")
    assert event["outcomeDesc"] == "a-code"
    (outcome,) = event["contained"]
    assert outcome["resourceType"] == "OperationOutcome"
    assert [item["what"]["reference"] for item in entities(event, "4")] == ["#outcome"]  # dom-3: contained is used


def test_a_person_known_by_number_only_is_not_named_and_nothing_is_claimed():
    event = created(patient=None)
    assert "profile" not in event["meta"]
    assert entities(event, "1") == []


def test_the_same_step_has_the_same_mark_and_another_has_another():
    marks = [
        event["meta"]["tag"][0]["code"] for event in (created(), created(), updated(), created(content="1" * 64))
    ]
    assert marks[0] == marks[1]
    assert len(set(marks)) == 3


def test_a_bundle_asks_the_repository_to_keep_each_once():
    sent = batch([created(), updated()])
    assert b'"type":"batch"' in sent
    assert sent.count(b'"ifNoneExist":"_tag=urn%3Aietf%3Arfc%3A3986%7Curn%3Auuid%3A') == 2
    assert sent.count(b'"method":"POST"') == 2
