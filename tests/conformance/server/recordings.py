"""A recording as it is really composed, on its way into a record, and what the record holds of it then."""

import json
import secrets
from dataclasses import dataclass, replace
from typing import Any

from gateway import fhir
from gateway.model import Recording, Way
from tests.builders import NOW, a_recording
from tests.conformance.server.second import SecondServer
from tests.integration.conftest import Story, Tell
from tests.unit.fhir.building import PAGE, SOFTWARE, a_filing, a_summary, all_codes, international

MOST = {"first": 20, "second": 8}
"""Entries of a transaction. The second server takes no more of them with conditional creates, as its library is made,
and says so only by a refusal.
"""
LEFT_TO_THE_LEASE = {
    "search-first": "between search and create somebody may come",
    "conditional, batch only": "the first server does not keep the conditions of one batch from those of another",
}
"""Ways in which two clients that share no store may make two copies, which then are held; and why."""
BEGUN = {"put": Way.PUT, "conditional": Way.CONDITIONAL, "search-first": Way.SEARCH_FIRST}


@dataclass
class Told:
    """A story with the recording and the identity that its parcel was composed of."""

    story: Story
    recording: Recording
    identity: fhir.Identity
    way: Way
    """the way that a server with these abilities is written to"""


def composed(recording: Recording, identity: fhir.Identity, **filing: Any) -> tuple[fhir.Resource, ...]:
    """What goes of a recording."""
    return fhir.compose(
        recording,
        a_summary(recording),
        a_filing(**filing),
        identity,
        all_codes(),
        international(),
        NOW,
        PAGE,
        SOFTWARE,
    )


def begin(tell: Tell, record: object, way: str, poor: frozenset[str], **filing: Any) -> Told:
    """A recording of a new person whom the record knows, with a monitor and a gateway of its own."""
    most = MOST["second" if isinstance(record, SecondServer) else "first"]
    story = tell(poor, most_entries=most, read_timeout=60)
    person = replace(story.parcel.person, family_name="Zztestname", given_name="Alex")
    recording = a_recording(person=person, monitor=replace(a_recording().monitor, serial=story.patient_id))
    key = secrets.token_bytes(32)  # a store of its own, so that even the gateway's Device is a new one
    assert person.identifier is not None
    own = fhir.recording_key(key, person.identifier, recording.monitor.serial, recording.began, issue=1)
    identity = fhir.Identity(key, own)
    resources = composed(recording, identity, **filing)
    story.parcel = fhir.Parcel(person=person, ended=recording.ended, resources=resources)
    return Told(story, recording, identity, BEGUN[way.partition(",")[0]])


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
        assert meaning(copy) == meaning(linked(sent, places))
        if "subject" in copy:
            assert copy["subject"]["reference"] == f"Patient/{story.patient_id}"


def linked(value: Any, places: dict[str, str]) -> Any:
    if isinstance(value, dict):
        return {
            key: places.get(item, item) if key == "reference" else linked(item, places) for key, item in value.items()
        }
    return [linked(item, places) for item in value] if isinstance(value, list) else value


def versions(story: Story) -> dict[str, int]:
    """How many versions each of our resources has."""
    return {
        ours: story.record.versions(body["resourceType"], body["id"])
        for ours, bodies in held(story).items()
        for body in bodies
    }
