"""Putting the person right before anything is filed: what the store keeps of it, and what it never allows."""

import json
from datetime import date

from gateway.model import DeliveryState, EventKind, Identifier, Person, RecordingState, Way
from gateway.store import HeldIntake, NotPossible, Store
from tests.unit.store.cases import (
    LEASE,
    NOW,
    a_resource,
    held,
    made_ready,
    ready,
    rejected,
    sending,
    taken_in,
)

NHS = "https://fhir.nhs.uk/Id/nhs-number"
RIGHT = Person(identifier=Identifier(NHS, "9990000026"), birth_date=date(1961, 4, 9), family_name="Zztestname")
FACTS = json.dumps({"recording": {"identifier_system": NHS, "identifier": "9990000018"}}).encode()
BY = ("A. Nurse", "appointment book", NOW)


def held_recording(store: Store, facts: bytes | None = FACTS) -> str:
    claim = taken_in(store)
    outcome = HeldIntake(hold=held().hold, facts=facts, events=())
    assert store.finish_intake(claim, outcome, NOW, "service")
    return claim.recording_id


def again(store: Store):
    claim = store.claim_received("worker", LEASE, NOW)
    assert claim is not None
    return claim


def test_it_is_worked_on_again_as_that_persons_and_nothing_is_waived(store):
    recording = held_recording(store)
    store.release(recording, *BY)  # a rule was waived while it bore the other number
    first = again(store)
    assert [waiver.rule for waiver in first.waivers] == ["time-in-future"] and first.given is None
    assert store.finish_intake(first, HeldIntake(hold=held().hold, facts=FACTS, events=()), NOW, "service")
    assert not isinstance(store.rename(recording, RIGHT, *BY), NotPossible)
    claim = again(store)
    assert claim.given == RIGHT
    assert claim.waivers == ()


def test_both_numbers_are_kept_and_the_audit_log_has_neither_in_plain(store):
    recording = held_recording(store)
    store.rename(recording, RIGHT, *BY)
    story = store.story(recording)
    (decision,) = story.decisions
    assert (decision.replaced, decision.given) == (f"{NHS}|9990000018", "9990000026")
    event = story.events[-1]
    assert (event.kind, event.actor) == (EventKind.RELEASED, "A. Nurse")
    assert event.detail["old_number"] != event.detail["new_number"]
    assert "999000" not in json.dumps(dict(event.detail))


def test_a_held_delivery_is_taken_back_and_composed_anew(store):
    recording = made_ready(store, outcome=ready(facts=FACTS))
    store.answer(sending(store), rejected("person-name"), None, NOW, "service")
    (item,) = store.held()
    assert not isinstance(store.rename(item.id, RIGHT, *BY), NotPossible)
    assert again(store).recording_id == recording
    assert [delivery.state for delivery in store.story(recording).deliveries] == [DeliveryState.CANCELLED]
    assert store.held() == ()


def test_not_once_something_is_in_a_record(store):
    recording = made_ready(store)
    claim = sending(store)
    store.note_filed(claim, Way.PUT, [a_resource()], NOW, "service")
    store.answer(claim, rejected(), None, NOW, "service")
    refused = store.rename(recording, RIGHT, *BY)
    assert isinstance(refused, NotPossible) and "withdraw" in refused.why
    assert store.story(recording).state is RecordingState.READY


def test_not_for_what_could_not_be_read_is_not_held_or_bears_the_number_already(store):
    assert isinstance(store.rename("nothing", RIGHT, *BY), NotPossible)
    recording = held_recording(store, facts=None)
    assert isinstance(store.rename(recording, RIGHT, *BY), NotPossible)
    store.refuse(recording, *BY)
    same = Person(identifier=Identifier(NHS, "9990000018"))
    assert isinstance(store.rename(recording, same, *BY), NotPossible)
