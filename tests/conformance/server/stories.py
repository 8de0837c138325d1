"""Stories of delivery under our own ids on both record servers, through the strict proxy.

Not collected by ./tests/run itself, because the second server needs Node: tests/conformance/run calls it.
"""

import json
import secrets
from dataclasses import replace
from typing import Any

import pytest

from gateway import fhir
from gateway.model import Delivered
from tests.builders import NOW, a_recording
from tests.integration.conftest import BATCHES, WAYS, Story, Tell
from tests.unit.fhir.building import PAGE, SOFTWARE, a_filing, a_summary, all_codes, international

MOST = 8
"""entries of a transaction that the second server takes in every case, as its library is made"""
STORIES = {"put": WAYS["put"], "put, batch only": BATCHES["put, batch only"]}


@pytest.fixture(params=STORIES.values(), ids=STORIES.keys())
def story(tell: Tell, request: pytest.FixtureRequest) -> Story:
    """A recording as it is really composed, of a new person whom the record knows."""
    return with_recording(tell(request.param, most_entries=MOST, read_timeout=60))


def with_recording(begun: Story) -> Story:
    person = replace(begun.parcel.person, family_name="Zztestname", given_name="Alex")
    monitor = replace(a_recording().monitor, serial=begun.patient_id)
    recording = a_recording(person=person, monitor=monitor)
    assert person.identifier is not None
    key = secrets.token_bytes(32)  # a store of its own, so that even the gateway's Device is a new one
    identity = fhir.Identity(
        key, fhir.recording_key(key, person.identifier, monitor.serial, recording.began, issue=1)
    )
    resources = fhir.compose(
        recording,
        a_summary(recording),
        a_filing(),
        identity,
        all_codes(),
        international(),
        NOW,
        PAGE,
        SOFTWARE,
    )
    begun.parcel = fhir.Parcel(person=person, ended=recording.ended, resources=resources)
    return begun


def held(story: Story) -> dict[str, tuple[Any, ...]]:
    """What the record holds of each resource, asked directly; Provenance has no identifier and is asked by target."""
    bodies = [body for items in story.held().values() for body in items]
    devices = [resource for resource in story.parcel.resources if resource.type == "Device"]
    for device in devices:
        bodies += story.record.search("Device", identifier=f"{fhir.SYSTEM}|urn:uuid:{device.id}")
    once = {(body["resourceType"], body["id"]): body for body in bodies}
    return dict(fhir.found(story.parcel.resources, once.values()))


def meaning(body: Any) -> Any:
    """A resource without what a server may write itself; JSON numbers by value, links by whose they are."""
    return {key: value for key, value in body.items() if key not in ("id", "meta", "subject")}


def assert_reads_back_equal(story: Story) -> None:
    """Every resource is there once, says what was composed, and its links lead to the resources meant."""
    copies = held(story)
    assert copies.keys() == {resource.id for resource in story.parcel.resources}
    places = {f"urn:uuid:{ours}": f"{items[0]['resourceType']}/{items[0]['id']}" for ours, items in copies.items()}
    for resource in story.parcel.resources:
        (copy,) = copies[resource.id]
        sent = json.loads(fhir.written(resource.body))
        wanted = meaning(linked(sent, places))
        assert meaning(copy) == wanted
        if "subject" in copy:
            assert copy["subject"]["reference"] == f"Patient/{story.patient_id}"


def linked(value: Any, places: dict[str, str]) -> Any:
    if isinstance(value, dict):
        return {
            key: places.get(item, item) if key == "reference" else linked(item, places) for key, item in value.items()
        }
    return [linked(item, places) for item in value] if isinstance(value, list) else value


def versions(story: Story) -> set[int]:
    """How many versions the resources have."""
    found = (body for bodies in held(story).values() for body in bodies)
    return {story.record.versions(body["resourceType"], body["id"]) for body in found}


def test_posted_and_read_back_equal(story: Story) -> None:
    answer = story.file()
    assert isinstance(answer, Delivered), answer
    assert answer.count == len(story.parcel.resources)
    assert_reads_back_equal(story)
    assert versions(story) == {1}


def test_repeated_without_any_memory_nothing_is_written(story: Story) -> None:
    story.file()
    story.ledger.clear()  # as a store that was restored from before
    story.uncertain = True
    story.server = story.new_server()
    answer = story.file()
    assert isinstance(answer, Delivered), answer
    assert answer.unchanged == len(story.parcel.resources)
    assert versions(story) == {1}
    assert_reads_back_equal(story)
