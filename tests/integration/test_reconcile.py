"""What was deleted, doubled, changed or added behind our back is found, and only what is missing is sent again."""

import uuid
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from gateway import pipeline
from gateway.deliver import Server
from gateway.fhir import pack
from gateway.model import Act, TryLater, Way
from gateway.model.reconciled import Fault
from gateway.reconciling import CORRECTED, Reconciled, reconcile
from gateway.store import NewDelivery, Store
from tests.integration.conftest import BATCHES, SINGLES, WAYS, Story, Tell
from tests.unit.store.cases import NOW, made_ready, ready

pytestmark = pytest.mark.service
LONG_AGO, LATER = NOW - timedelta(days=1), NOW + timedelta(minutes=1)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "gateway.sqlite") as opened:
        yield opened


@pytest.fixture(params=WAYS.values(), ids=WAYS.keys())
def poor(request: pytest.FixtureRequest) -> frozenset[str]:
    return request.param


def delivered(store: Store, story: Story) -> str:
    """One recording, filed by the pipeline as the service does it."""
    new = NewDelivery(destination="record", act=Act.FILE, content=pack(story.parcel))
    recording = made_ready(store, outcome=replace(ready(), deliveries=(new,)))
    deliver(store, story.server)
    return recording


def deliver(store: Store, server: Server) -> None:
    while pipeline.deliver_next(store, {"record": server}, "worker", lambda: LATER):
        pass


def looked(store: Store, story: Story, repair: bool = False) -> Reconciled:
    return reconcile(store, story.new_server(), LONG_AGO, repair, "reconcile", LATER)


def faults(found: Reconciled) -> list[tuple[Fault, str]]:
    return sorted((each.fault, each.type) for compared in found.found for each in compared.differences)


def one(story: Story, kind: str, number: int = 0) -> dict[str, Any]:
    return sorted(story.held()[kind], key=lambda item: (item.get("effectiveDateTime", "9"), item["id"]))[number]


@pytest.mark.parametrize("poor", [*WAYS.values(), *BATCHES.values(), *SINGLES.values()])
def test_what_is_as_filed_is_said_to_be(store: Store, tell: Tell, poor: frozenset[str]) -> None:
    story = tell(poor)
    delivered(store, story)
    written = story.record.writes()
    found = looked(store, story)
    assert (found.recordings, found.entries, found.found, found.unreachable) == (1, 10, [], "")
    assert story.record.writes() == written, "looking writes nothing"


def test_deleted_doubled_changed_and_foreign_entries_are_told_apart(
    store: Store, tell: Tell, poor: frozenset[str]
) -> None:
    story = tell(poor)
    delivered(store, story)
    deleted, twin, changed = (one(story, "Observation", number) for number in range(3))
    story.record.delete("Observation", deleted["id"])
    story.record.put({**twin, "id": str(uuid.uuid4())})
    changed["component"][0]["valueQuantity"]["value"] = 199.0
    story.record.put(changed)
    stranger = one(story, "Observation", 3)
    stranger["identifier"] = [each for each in stranger["identifier"] if each["value"] == story.key()]
    story.record.put({**stranger, "id": str(uuid.uuid4())})
    found = looked(store, story)
    assert faults(found) == [
        (Fault.CHANGED, "Observation"),
        (Fault.DOUBLED, "Observation"),
        (Fault.FOREIGN, "Observation"),
        (Fault.MISSING, "Observation"),
    ]
    by_fault = {each.fault: each for each in found.found[0].differences}
    assert by_fault[Fault.CHANGED].what == "Observation.component[0].valueQuantity.value"
    assert "199.0" not in repr(found), "no value of a person is told"
    assert len(by_fault[Fault.DOUBLED].server_ids) == 2


def test_a_changed_subject_a_deleted_report_and_a_deleted_provenance_are_found(
    store: Store, tell: Tell, poor: frozenset[str]
) -> None:
    story = tell(poor)
    delivered(store, story)
    other = tell()
    moved = one(story, "Observation")
    story.record.put({**moved, "subject": {"reference": f"Patient/{other.patient_id}"}})
    provenance = one(story, "Provenance")
    story.record.delete("Provenance", provenance["id"])
    assert faults(looked(store, story)) == [(Fault.CHANGED, "Observation"), (Fault.MISSING, "Provenance")]
    story.record.delete("DiagnosticReport", one(story, "DiagnosticReport")["id"])
    assert (Fault.MISSING, "DiagnosticReport") in faults(looked(store, story))


@pytest.mark.parametrize("kind", ["Observation", "DiagnosticReport", "Provenance"])
def test_a_repair_sends_only_what_is_missing_and_everything_is_there_once_afterwards(
    store: Store, tell: Tell, poor: frozenset[str], kind: str
) -> None:
    story = tell(poor)
    delivered(store, story)
    story.record.delete(kind, one(story, kind)["id"])
    before = {item["id"]: item["meta"]["versionId"] for items in story.held().values() for item in items}
    found = looked(store, story, repair=True)
    assert [compared.sent_again for compared in found.found] == [True]
    deliver(store, story.new_server())
    assert looked(store, story).found == []
    held = story.held()
    assert {name: len(items) for name, items in held.items()} == {
        "Observation": 7,
        "DiagnosticReport": 1,
        "Device": 1,
        "Provenance": 1,
    }
    if not poor:  # under our own ids nothing else had to be touched
        after = {item["id"]: item["meta"]["versionId"] for items in held.values() for item in items}
        assert {key: after[key] for key in before} == before
    assert any(event.detail.get("step") == "reconcile" for event in story_events(store))


def story_events(store: Store) -> list[Any]:
    (recording,) = store.done_since("record", LONG_AGO)
    return list(store.story(recording).events)


def test_a_repair_leaves_what_is_changed_and_a_person_hears_of_it(store: Store, tell: Tell) -> None:
    story = tell()
    recording = delivered(store, story)
    changed, deleted = one(story, "Observation"), one(story, "Observation", 1)
    changed["component"][0]["valueQuantity"]["value"] = 199.0
    story.record.put(changed)
    story.record.delete("Observation", deleted["id"])
    looked(store, story, repair=True)
    deliver(store, story.new_server())
    assert story.record.read("Observation", changed["id"])["component"][0]["valueQuantity"]["value"] == 199.0
    assert story.record.read("Observation", deleted["id"])["id"] == deleted["id"]
    assert [item.reason for item in store.held()] == ["record-incomplete"]
    assert store.story(recording).deliveries[0].way is Way.PUT


def test_a_server_that_is_away_ends_it_and_another_time_is_compared(store: Store, tell: Tell) -> None:
    story = tell()
    recording = delivered(store, story)
    away = story.new_server(url="http://127.0.0.1:9/fhir")
    found = reconcile(store, away, LONG_AGO, True, "reconcile", LATER)
    assert found.unreachable and found.recordings == 0
    assert store.done_since("record", LONG_AGO) == (recording,)
    assert store.done_since("record", LATER + timedelta(days=1)) == ()
    assert store.done_since("region", LONG_AGO) == ()


def test_a_person_who_cannot_be_found_any_more_is_told_and_nothing_is_sent(store: Store, tell: Tell) -> None:
    story = tell()
    delivered(store, story)
    story.record.put({**story.record.read("Patient", story.patient_id), "active": False})
    found = looked(store, story, repair=True)
    assert [each.what for each in found.found[0].differences] == ["person-inactive"]
    assert faults(found) == [(Fault.NOT_COMPARED, "")]
    assert not found.found[0].sent_again and found.found[0].not_sent in ("", CORRECTED)
    assert not isinstance(found, TryLater)
