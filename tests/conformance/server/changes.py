"""Stories of what happens to a result after it was filed, on both record servers, once per way of writing."""

from datetime import timedelta

import pytest

from gateway import fhir
from gateway.amending import withdrawal_of
from gateway.model import Act, Delivered
from tests.builders import NOW
from tests.conformance.fhir.samples import tools
from tests.conformance.server.recordings import Told, assert_reads_back_equal, begin, held, versions
from tests.integration.conftest import WAYS, Tell

LATER = NOW + timedelta(days=1)


@pytest.fixture(params=WAYS)
def filed(tell: Tell, record: object, request: pytest.FixtureRequest) -> Told:
    """A recording that the record holds."""
    told = begin(tell, record, request.param, WAYS[request.param])
    answer = told.story.file()
    assert isinstance(answer, Delivered), answer
    return told


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
