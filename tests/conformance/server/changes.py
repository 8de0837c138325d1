"""Stories of what happens to a result after it was filed, on both record servers, once per way of writing."""

from dataclasses import replace
from datetime import timedelta

import pytest

from gateway import fhir
from gateway.amending import withdrawal_of
from gateway.model import Act, Delivered
from tests.builders import NOW
from tests.conformance.fhir.generated import changed
from tests.conformance.fhir.samples import tools
from tests.conformance.server.recordings import Told, assert_reads_back_equal, begin, composed, held, versions
from tests.integration.conftest import WAYS, Tell
from tests.unit.fhir.building import all_codes, international

LATER = NOW + timedelta(days=1)


@pytest.fixture(params=WAYS)
def filed(tell: Tell, record: object, request: pytest.FixtureRequest) -> Told:
    """A recording that the record holds."""
    told = begin(tell, record, request.param, WAYS[request.param], report_status="final")
    answer = told.story.file()
    assert isinstance(answer, Delivered), answer
    return told


def test_corrected_under_the_same_numbers_and_once(filed: Told) -> None:
    """One value is another, one reading is new: only what says something else is written, where it was."""
    story = filed.story
    before = {item.id: item for item in story.parcel.resources}
    notice = fhir.Notice(at=LATER, page=None)
    how = fhir.Correction(
        identity=filed.identity, codes=all_codes(), profile=international(), notice=notice, gone=frozenset()
    )
    now = composed(changed(filed.recording), filed.identity, report_status="final")
    after = fhir.correct(story.parcel.resources, now, how)
    assert fhir.check(after, all_codes(), frozenset(before)) == ()
    known = dict(story.ledger)
    story.parcel = replace(story.parcel, resources=after)
    rewritten = {item.id for item in after if item.id in before and item != before[item.id]}
    for _ in range(2):
        answer = story.file(act=Act.CORRECT)
        assert isinstance(answer, Delivered), answer
        assert_reads_back_equal(story)
        copies = {ours: body for ours, (body,) in held(story).items()}
        assert {copies[ours]["status"] for ours in rewritten} == {"corrected"}
        assert {copies[ours]["resourceType"] for ours in rewritten} == {"Observation", "DiagnosticReport"}
        assert sorted(copies[ours]["resourceType"] for ours in copies.keys() - before) == [
            "Observation",
            "Provenance",
        ]
        assert {ours for ours, count in versions(story).items() if count == 2} == rewritten
        assert set(versions(story).values()) == {1, 2}
        story.ledger, story.uncertain, story.server = dict(known), True, story.new_server()


def test_withdrawn_in_the_same_chart_and_once(filed: Told) -> None:
    """Entered in error with the notice for its text; when the answers were lost, the repetition writes nothing."""
    story = filed.story
    changed = {item.id for item in story.parcel.resources if item.type in ("Observation", "DiagnosticReport")}
    known = dict(story.ledger)
    story.parcel = fhir.unpack(withdrawal_of(fhir.pack(story.parcel), filed.identity, tools(), LATER))
    for _ in range(2):
        answer = story.file(act=Act.WITHDRAW)
        assert isinstance(answer, Delivered), answer
        assert_reads_back_equal(story)
        copies = {ours: body for ours, (body,) in held(story).items()}
        assert {ours for ours, body in copies.items() if body.get("status") == fhir.GONE} == changed
        for ours in changed:
            assert "It was filed in error. Do not use any of its values." in copies[ours]["text"]["div"]
        assert {ours for ours, count in versions(story).items() if count == 2} == changed
        assert set(versions(story).values()) == {1, 2}
        story.ledger, story.uncertain, story.server = dict(known), True, story.new_server()
