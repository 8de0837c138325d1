"""Parts follow from the ledger alone, whatever the way of writing and however small the server's limits."""

from dataclasses import replace
from functools import cache
from typing import Any
from urllib.parse import unquote

import pytest

from gateway.fhir import (
    SYSTEM,
    Capabilities,
    Part,
    PatientLink,
    Rank,
    Resource,
    address_of,
    best_way,
    check_bundle,
    filed_as,
    found,
    is_filed,
    next_part,
    searches,
)
from gateway.model import Filed, Identifier, Way
from tests.builders import a_recording, readings_over
from tests.unit.fhir.building import PAGE, all_codes, composed

PATIENT = PatientLink(reference="Patient/p-7")


@cache
def resources() -> tuple[Resource, ...]:
    return composed(a_recording(readings_over(every=lambda moment: 60)))


def answered(part: Part, way: Way, ledger: dict[str, Filed]) -> dict[str, Filed]:
    """What a server that does as told would have added to the ledger."""
    return {
        entry.resource.id: filed_as(
            entry.resource,
            entry.server_id or f"s-{len(ledger) + number}",
            "1",
        )
        for number, entry in enumerate(part.entries)
    }


def run(way: Way, **limits: Any) -> tuple[list[Part], dict[str, Filed]]:
    ledger: dict[str, Filed] = {}
    parts = []
    while part := next_part(resources(), PATIENT, way, ledger, **limits):
        parts.append(part)
        ledger |= answered(part, way, ledger)
        assert len(parts) < 100
    return parts, ledger


def test_a_page_in_a_binary_is_found_where_it_was_written():
    made = composed(report_binary=True)
    part = next_part(made, PATIENT, Way.PUT, {item.id: filed_as(item, item.id, "1") for item in made[:2]})
    assert part is not None
    written_as = {entry.resource.type: entry for entry in part.entries}
    binary, report = written_as["Binary"], written_as["DiagnosticReport"]
    assert report.body["presentedForm"][0]["url"] == f"Binary/{binary.server_id}"
    assert binary.body["securityContext"] == {"reference": "Patient/p-7", "type": "Patient"}
    assert check_bundle(part.bundle, all_codes()) == ()


def test_a_page_in_a_binary_is_left_out_when_it_alone_is_too_large():
    made = composed(page=PAGE + b"%" * 60_000, report_binary=True)
    ledger = {item.id: filed_as(item, item.id, "1") for item in made if item.type not in LAST}
    part = next_part(made, PATIENT, Way.PUT, ledger, most_bytes=40_000)
    assert part is not None
    assert [entry.resource.type for entry in part.entries] == ["Binary"]
    assert part.report_left_out and not part.too_large
    assert "data" not in part.entries[0].body


def test_a_binary_is_written_under_our_own_id_or_not_at_all():
    types = frozenset({"Device", "Observation", "DiagnosticReport", "Provenance"})
    every = {"conditional_create": types | {"Binary"}, "everywhere": frozenset({"_tag", "identifier"})}
    poor = Capabilities(fhir_version="4.0.1", transaction=True, update_create=types, **every)
    assert best_way(poor, types | {"Binary"}) is None
    assert best_way(replace(poor, update_create=types | {"Binary"}), types | {"Binary"}) is Way.PUT


LAST = ("Binary", "DiagnosticReport", "Provenance")


def references(value: Any) -> list[str]:
    if isinstance(value, dict):
        own = [value["reference"]] if isinstance(value.get("reference"), str) else []
        return own + [item for inner in value.values() for item in references(inner)]
    return [item for inner in value for item in references(inner)] if isinstance(value, list | tuple) else []


@pytest.mark.parametrize("way", Way)
@pytest.mark.parametrize("limits", [{}, {"most_entries": 7}, {"most_bytes": 40_000}, {"most_entries": 1}])
def test_everything_is_sent_once_and_nothing_leads_to_what_is_not_stored(way, limits):
    parts, ledger = run(way, **limits)
    sent = [entry.resource.id for part in parts for entry in part.entries]
    assert sorted(sent) == sorted(item.id for item in resources())
    stored: set[str] = {"Patient/p-7"}
    ledger_so_far: dict[str, Filed] = {}
    for part in parts:
        here = {entry["fullUrl"] for entry in part.bundle["entry"]}
        addressed = {f"{e.resource.type}/{e.server_id}" for e in part.entries if e.server_id}
        for entry in part.entries:
            assert set(references(entry.body)) <= stored | here | addressed
        assert check_bundle(part.bundle, all_codes()) == ()
        ledger_so_far |= answered(part, way, ledger_so_far)
        stored = {"Patient/p-7", *(f"{row.resource_type}/{row.server_id}" for row in ledger_so_far.values())}
    assert ledger_so_far == ledger


@pytest.mark.parametrize("way", Way)
def test_devices_go_alone_and_beforehand_and_ranks_never_fall(way):
    parts, _ = run(way, most_entries=7)
    assert {entry.resource.rank for entry in parts[0].entries} == {Rank.DEVICE}
    ranks = [entry.resource.rank for part in parts for entry in part.entries]
    assert ranks == sorted(ranks)


def test_limits_are_kept():
    assert all(len(part.entries) <= 7 for part in run(Way.PUT, most_entries=7)[0])
    parts = run(Way.PUT, most_bytes=60_000)[0]
    assert all(len(part.content) <= 60_000 for part in parts)
    assert len(parts) > 2


def test_put_writes_to_our_own_id():
    part = run(Way.PUT)[0][1]
    for entry in part.bundle["entry"]:
        ours = entry["fullUrl"].removeprefix("urn:uuid:")
        assert entry["request"] == {"method": "PUT", "url": f"{entry['resource']['resourceType']}/{ours}"}
        assert entry["resource"]["id"] == ours
        assert not [item for item in references(entry["resource"]) if item.startswith("urn:")]


def test_a_conditional_create_names_our_identifier_and_brings_no_id():
    for part in run(Way.CONDITIONAL)[0]:
        for entry, made in zip(part.entries, part.bundle["entry"], strict=True):
            assert made["request"]["method"] == "POST"
            assert "id" not in made["resource"]
            name, _, value = made["request"]["ifNoneExist"].partition("=")
            # R4 knows no identifier for Provenance, so it is known by its tag
            assert name == ("_tag" if entry.resource.type == "Provenance" else "identifier")
            assert unquote(value) == f"{SYSTEM}|{made['fullUrl']}"
            assert "|" not in value
            assert entry.conditional


def test_search_first_is_a_plain_create():
    for part in run(Way.SEARCH_FIRST)[0]:
        assert all(set(entry["request"]) == {"method", "url"} for entry in part.bundle["entry"])


def test_the_subject_is_the_servers_own_patient_or_a_number():
    entries = run(Way.PUT)[0][1].bundle["entry"]
    assert entries[0]["resource"]["subject"] == {"reference": "Patient/p-7", "type": "Patient"}
    logical = PatientLink(identifier=Identifier("urn:oid:1.2.3", "77"))
    ledger = {item.id: filed_as(item, item.id, "1") for item in resources() if item.rank is Rank.DEVICE}
    part = next_part(resources(), logical, Way.PUT, ledger)
    assert part is not None
    subject = part.bundle["entry"][0]["resource"]["subject"]
    assert subject == {"type": "Patient", "identifier": {"system": "urn:oid:1.2.3", "value": "77"}}
    as_in_file = next_part(resources(), PatientLink(), Way.PUT, ledger)
    assert as_in_file is not None
    assert as_in_file.bundle["entry"][0]["resource"]["subject"] == resources()[2].body["subject"]


def test_what_is_filed_is_not_sent_again():
    _, ledger = run(Way.CONDITIONAL)
    assert next_part(resources(), PATIENT, Way.CONDITIONAL, ledger) is None
    assert all(is_filed(item, ledger) for item in resources())


@pytest.mark.parametrize("way", Way)
def test_a_change_is_written_to_the_known_id_and_version(way):
    _, ledger = run(way)
    target = next(item for item in resources() if item.type == "DiagnosticReport")
    ledger[target.id] = replace(ledger[target.id], version="4")
    changed = Resource(target.rank, {**target.body, "conclusion": "Corrected."})
    part = next_part([changed if item is target else item for item in resources()], PATIENT, way, ledger)
    assert part is not None
    (entry,) = part.bundle["entry"]
    server_id = ledger[target.id].server_id
    assert entry["request"] == {"method": "PUT", "url": f"DiagnosticReport/{server_id}", "ifMatch": 'W/"4"'}
    assert entry["resource"]["id"] == server_id
    assert entry["resource"]["result"][0]["reference"].startswith("Observation/")


def test_a_cut_off_delivery_goes_on_where_the_ledger_ends():
    ledger: dict[str, Filed] = {}
    for _ in range(3):
        part = next_part(resources(), PATIENT, Way.CONDITIONAL, ledger, most_entries=5)
        assert part is not None
        ledger |= answered(part, Way.CONDITIONAL, ledger)
    again = next_part(resources(), PATIENT, Way.CONDITIONAL, ledger, most_entries=5)
    assert again is not None
    assert {entry.resource.id for entry in again.entries}.isdisjoint(ledger)


def test_a_page_larger_than_the_server_takes_is_left_out_but_its_size_and_hash_stay():
    made = composed(a_recording(readings_over(every=lambda moment: 60)), page=b"%PDF-1.7\n" + b"x" * 90_000)
    ledger = {item.id: filed_as(item, item.id, "1") for item in made if item.rank < Rank.REPORT}
    part = next_part(made, PATIENT, Way.PUT, ledger, most_bytes=60_000)
    assert part is not None
    assert part.report_left_out
    assert not part.too_large
    (page,) = part.entries[0].body["presentedForm"]
    assert "data" not in page
    assert page["size"] == 90_009
    assert page["hash"]


def test_one_entry_that_is_too_large_alone_is_said_so():
    part = next_part(resources(), PATIENT, Way.PUT, {}, most_bytes=100)
    assert part is not None
    assert part.too_large
    assert len(part.entries) == 1


TYPES = frozenset({"Observation", "Device", "DiagnosticReport", "Provenance"})
IDENTIFIER = {kind: frozenset({"identifier"}) for kind in TYPES}
TARGET = {"Provenance": frozenset({"target"})}


@pytest.mark.parametrize(
    ("changes", "way"),
    [
        ({"update_create": TYPES}, Way.PUT),
        ({"update_create": TYPES, "conditional_create": TYPES}, Way.PUT),
        ({"update_create": TYPES - {"Device"}, "conditional_create": TYPES, "searches": TARGET}, Way.CONDITIONAL),
        ({"conditional_create": TYPES, "everywhere": frozenset({"_tag"})}, Way.CONDITIONAL),
        ({"conditional_create": TYPES}, None),
        ({"searches": IDENTIFIER | TARGET}, Way.SEARCH_FIRST),
        ({"everywhere": frozenset({"identifier", "_tag"})}, Way.SEARCH_FIRST),
        ({"searches": IDENTIFIER}, None),
        ({"searches": {"Observation": frozenset({"identifier"})}}, None),
        ({}, None),
        ({"update_create": TYPES, "transaction": False}, None),
        ({"update_create": TYPES, "fhir_version": "5.0.0"}, None),
        ({"update_create": TYPES, "fhir_version": "4.3.0"}, None),
    ],
)
def test_the_safest_declared_way_is_chosen(changes, way):
    assert best_way(Capabilities(**{"fhir_version": "4.0.1", "transaction": True, **changes}), TYPES) is way


def test_one_search_for_each_type_finds_a_whole_recording():
    asked = searches(resources(), {})
    types = [search.type for search in asked]
    assert sorted(types) == ["Device", "Device", "DiagnosticReport", "Observation"]
    _, ledger = run(Way.SEARCH_FIRST)
    provenance = [search for search in searches(resources(), ledger) if search.type == "Provenance"]
    assert len(provenance) == 1
    assert provenance[0].parameters[0][0] == "target"


def test_answers_are_matched_to_our_resources_byte_for_byte():
    _, ledger = run(Way.CONDITIONAL)
    address = address_of(resources(), PATIENT, Way.CONDITIONAL, ledger)
    held = [address.body(item) for item in resources()]
    stranger = {"resourceType": "Observation", "id": "x", "identifier": [{"system": SYSTEM, "value": "urn:uuid:no"}]}
    copies = found(resources(), [*held, stranger, {"resourceType": "Patient"}, held[3]])
    assert set(copies) == {item.id for item in resources()}
    assert copies[resources()[3].id] == (held[3], held[3])
    upper = {**held[3], "identifier": [{**item, "value": item["value"].upper()} for item in held[3]["identifier"]]}
    assert found(resources(), [upper]) == {}
