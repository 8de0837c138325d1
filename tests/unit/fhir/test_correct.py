"""What stands in the record once a result is corrected.

Sources: FHIR R4 4.0.1, value sets observation-status and diagnostic-report-status (corrected, amended),
composition-status (docStatus), document-relationship-type (replaces), provenance-entity-role (revision);
v3-DataOperation UPDATE.
"""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from gateway.fhir import GONE, Correction, Notice, Rank, Resource, check, correct, is_correction, never_there
from gateway.mapping.language import ENGLISH
from gateway.model import Filed, Recording, ReportChoice
from tests.builders import NOW, a_recording
from tests.unit.fhir.building import all_codes, composed, identity_of, international

WHOLE = a_recording()
AT = NOW + timedelta(days=2)
OTHER_PAGE = b"%PDF-1.7\n% another page\n"


def how(gone: frozenset[float] | None = None, **more: Any) -> Correction:
    notice = Notice(at=AT, page=None, language=ENGLISH)
    return Correction(
        identity=identity_of(WHOLE), codes=all_codes(), profile=international(), notice=notice, gone=gone, **more
    )


def by_id(resources: tuple[Resource, ...]) -> dict[str, Any]:
    return {item.id: item.body for item in resources}


def corrected(
    before: tuple[Resource, ...], now: Recording, gone: frozenset[float] | None = None, **filing: Any
) -> tuple[Resource, ...]:
    after = correct(before, composed(now, **filing), how(gone))
    if after:
        assert check(after, all_codes(), frozenset(item.id for item in before)) == ()
    return after


def statuses(resources: tuple[Resource, ...], kind: str) -> dict[str, str]:
    return {item.id: item.body["status"] for item in resources if item.type == kind}


def with_value(recording: Recording, at: int, more: int) -> Recording:
    readings = list(recording.readings)
    systolic = readings[at].systolic
    assert systolic is not None
    readings[at] = replace(readings[at], systolic=systolic + 10 * more)
    return replace(recording, readings=tuple(readings))


def reading_ids(resources: tuple[Resource, ...]) -> list[str]:
    return [item.id for item in resources if item.rank is Rank.READING]


def test_the_same_again_is_nothing() -> None:
    assert corrected(composed(WHOLE), WHOLE) == ()


def test_a_value_that_changed_is_corrected_and_everything_else_keeps_its_bytes() -> None:
    before = composed(WHOLE)
    after = corrected(before, with_value(WHOLE, 2, 7))
    old, new = by_id(before), by_id(after)
    assert set(reading_ids(before)) == set(reading_ids(after))
    moved = [number for number in reading_ids(before) if old[number] != new[number]]
    assert len(moved) == 1
    assert new[moved[0]]["status"] == "corrected"
    assert new[moved[0]]["identifier"] == old[moved[0]]["identifier"]
    assert set(statuses(after, "Observation").values()) <= {"final", "corrected", "amended"}
    assert set(statuses(after, "DiagnosticReport").values()) == {"preliminary"}, "nobody reviewed it yet"


def test_a_final_report_is_corrected_where_a_value_moved_and_amended_where_it_did_not() -> None:
    before = composed(WHOLE, report_status="final")
    assert set(
        statuses(corrected(before, with_value(WHOLE, 2, 7), report_status="final"), "DiagnosticReport").values()
    ) == {"corrected"}
    after = correct(before, composed(WHOLE, page=OTHER_PAGE, report_status="final"), how())
    assert set(statuses(after, "DiagnosticReport").values()) == {"amended"}


def test_the_provenance_tells_what_was_touched_from_which_export() -> None:
    before = composed(WHOLE)
    after = corrected(before, with_value(WHOLE, 2, 7))
    (provenance,) = [item for item in after if item.rank is Rank.PROVENANCE]
    assert is_correction(after) and not is_correction(before)
    old, new = by_id(before), by_id(after)
    touched = {number for number in new if new[number] != old.get(number)} - {provenance.id}
    devices = {item.id for item in after if item.rank is Rank.DEVICE}
    assert {each["reference"].removeprefix("urn:uuid:") for each in provenance.body["target"]} == touched - devices
    assert [each["role"] for each in provenance.body["entity"]] == ["source", "revision"]
    assert provenance.body["activity"]["coding"][0]["code"] == "UPDATE"
    assert provenance.id not in old


def test_a_reading_that_is_gone_is_entered_in_error_and_the_others_stay() -> None:
    before = composed(WHOLE)
    less = replace(WHOLE, readings=(*WHOLE.readings[:4], *WHOLE.readings[5:]))
    after = corrected(before, less)
    gone = [number for number, status in statuses(after, "Observation").items() if status == GONE]
    assert len(gone) == 1 and gone[0] in reading_ids(before)
    body = by_id(after)[gone[0]]
    assert body["subject"] == by_id(before)[gone[0]]["subject"]
    assert "Do not use" in body["text"]["div"]
    linked = [str(item.body.get("derivedFrom")) for item in after]
    assert not any(gone[0] in each for each in linked)


def test_no_setting_takes_readings_out_of_a_record() -> None:
    before = composed(WHOLE)
    kept = corrected(before, with_value(WHOLE, 2, 7), gone=frozenset(), readings="none")
    assert GONE not in statuses(kept, "Observation").values()
    assert set(reading_ids(before)) == set(reading_ids(kept))
    one = WHOLE.readings[4].at.timestamp()
    after = corrected(before, WHOLE, gone=frozenset({one}), readings="none")
    assert list(statuses(after, "Observation").values()).count(GONE) == 1


def test_a_document_is_replaced_and_the_old_one_says_so() -> None:
    before = composed(WHOLE, report=ReportChoice.DOCUMENT_REFERENCE)
    after = corrected(before, with_value(WHOLE, 2, 7), page=OTHER_PAGE, report=ReportChoice.DOCUMENT_REFERENCE)
    documents = {item.body["status"]: item for item in after if item.type == "DocumentReference"}
    assert documents.keys() == {"current", "superseded"}
    assert documents["superseded"].id in by_id(before)
    (relation,) = documents["current"].body["relatesTo"]
    assert relation["code"] == "replaces"
    assert relation["target"]["reference"] == f"urn:uuid:{documents['superseded'].id}"
    again = corrected(after, with_value(WHOLE, 2, 9), page=OTHER_PAGE + b"2", report=ReportChoice.DOCUMENT_REFERENCE)
    assert sorted(statuses(again, "DocumentReference").values()) == ["current", "superseded", "superseded"]


def test_a_printed_page_of_its_own_is_written_anew_under_another_id() -> None:
    before = composed(WHOLE, report_binary=True)
    after = corrected(before, with_value(WHOLE, 2, 7), page=OTHER_PAGE, report_binary=True)
    prints = [item.id for item in after if item.type == "Binary"]
    assert len(prints) == 2 and len(set(prints) & by_id(before).keys()) == 1
    (report,) = [item for item in after if item.type == "DiagnosticReport"]
    (new,) = set(prints) - by_id(before).keys()
    assert report.body["presentedForm"][0]["url"] == f"urn:uuid:{new}"
    assert corrected(after, with_value(WHOLE, 2, 7), page=OTHER_PAGE, report_binary=True) == ()


def test_what_was_taken_back_is_never_written_again_but_comes_as_something_new() -> None:
    before = composed(WHOLE)
    less = replace(WHOLE, readings=(*WHOLE.readings[:4], *WHOLE.readings[5:]))
    without = corrected(before, less)
    again = corrected(without, WHOLE)
    gone = [number for number, status in statuses(again, "Observation").items() if status == GONE]
    assert len(gone) == 1
    assert by_id(again)[gone[0]] == by_id(without)[gone[0]]
    new = set(reading_ids(again)) - set(reading_ids(before))
    assert len(new) == 1
    assert corrected(again, WHOLE) == ()


def test_another_guideline_amends_and_corrects_no_error() -> None:
    after = correct(composed(WHOLE), composed(with_value(WHOLE, 2, 7)), how(amends=True))
    assert "corrected" not in statuses(after, "Observation").values()
    assert "amended" in statuses(after, "Observation").values()


def test_what_a_record_never_got_is_not_created_to_be_told_gone() -> None:
    before = composed(WHOLE)
    after = corrected(before, replace(WHOLE, readings=(*WHOLE.readings[:4], *WHOLE.readings[5:])))
    (gone,) = [number for number, status in statuses(after, "Observation").items() if status == GONE]
    assert gone not in {item.id for item in never_there(after, {})}
    row = Filed(
        resource_id=gone, resource_type="Observation", server_id=gone, version="1", content_hash="", status="final"
    )
    assert gone in {item.id for item in never_there(after, {gone: row})}
    (provenance,) = [item for item in never_there(after, {}) if item.rank is Rank.PROVENANCE]
    assert gone not in str(provenance.body["target"])


@pytest.mark.parametrize("status", ["corrected", "amended"])
def test_a_changed_reading_claims_no_profile_that_wants_final(status: str) -> None:
    from gateway.fhir.claiming import still_claiming
    from gateway.settings.maps import load

    profile = load(None).profiles["uk-core"]
    body = next(item.body for item in composed(WHOLE) if item.rank is Rank.READING)
    (wanted,) = [each for claims in profile.claims.values() for each in claims if each.status][:1]
    claimed = {**body, "meta": {"profile": [wanted.url, "http://hl7.org/fhir/StructureDefinition/bp"]}}
    kept = still_claiming({**claimed, "status": status}, profile, all_codes())
    assert wanted.url not in kept["meta"]["profile"]
    assert "http://hl7.org/fhir/StructureDefinition/bp" in kept["meta"]["profile"]
