"""T3 and T4 on a real database: order per person, leases, fences, the ledger."""

from dataclasses import replace
from datetime import timedelta

import pytest

from gateway.errors import LeaseLost
from gateway.model import Delivered, DeliveryState, RecordingState, Shown, TryLater, Way
from gateway.store import Decided, HeldKind, NotPossible
from tests.unit.store.cases import (
    LEASE,
    NOW,
    OVER,
    a_resource,
    kinds,
    made_ready,
    ready,
    rejected,
    sending,
)

DONE = Delivered(patient="7", count=3)
DOWN = TryLater(why="no answer", unreachable=True)


def claim_of(store, destinations=("record",), now=NOW, lease=LEASE):
    claim = store.claim_delivery("worker", lease, now, destinations)
    return claim and claim.recording_id


def test_delivered_once_and_never_claimed_again(store):
    recording = made_ready(store)
    claim = sending(store)
    assert (claim.recording_id, claim.content, claim.attempt, claim.way) == (recording, b"person-1 record", 1, None)
    assert claim_of(store) is None
    store.answer(claim, DONE, None, NOW, "worker")
    assert claim_of(store) is None
    assert store.story(recording).shown is Shown.DELIVERED
    assert kinds(store) == ["received", "read", "ready", "sending", "delivered"]


def test_only_named_destinations_are_claimed(store):
    made_ready(store, outcome=ready("person-1", "record", "research"))
    assert claim_of(store, ()) is None
    assert sending(store, "research").destination == "research"
    assert claim_of(store, ("research",)) is None


def test_order_per_person_and_destination(store):
    first = made_ready(store, b"1", ready("person-1", "record", "research"))
    second = made_ready(store, b"2", ready("person-1", "record"))
    other = made_ready(store, b"3", ready("person-2", "record"))
    one = sending(store)
    assert one.recording_id == first
    assert claim_of(store) == other, "another person goes on, the same person's next waits"
    assert claim_of(store) is None
    store.answer(one, DOWN, NOW + timedelta(minutes=5), NOW, "worker")
    assert claim_of(store) is None, "the earlier one waits for its time and still goes first"
    later = NOW + timedelta(minutes=5)
    again = sending(store, now=later)
    assert again.recording_id == first
    store.answer(again, DONE, None, later, "worker")
    assert claim_of(store, now=later) == second
    assert claim_of(store, ("research",)) == first, "destinations do not wait for each other"


def test_held_deliveries_do_not_block(store):
    made_ready(store, b"1")
    second = made_ready(store, b"2")
    store.answer(sending(store), rejected(), None, NOW, "worker")
    assert claim_of(store) == second


def test_what_is_not_due_is_not_claimed(store):
    made_ready(store)
    store.answer(sending(store), DOWN, NOW + timedelta(minutes=5), NOW, "worker")
    assert claim_of(store, now=NOW + timedelta(minutes=4)) is None
    assert sending(store, now=NOW + timedelta(minutes=5)).attempt == 2


def test_a_lost_lease_comes_back_with_its_outcome_unknown_and_the_old_claim_is_fenced(store):
    made_ready(store)
    dead = sending(store, lease=OVER)
    alive = sending(store)
    assert (dead.outcome_unknown, alive.outcome_unknown, alive.attempt) == (False, True, 2)
    for late in (
        lambda: store.answer(dead, DONE, None, NOW, "dead"),
        lambda: store.answer(dead, rejected(), None, NOW, "dead"),
        lambda: store.note_filed(dead, Way.PUT, [a_resource()], NOW, "dead"),
    ):
        with pytest.raises(LeaseLost):
            late()
    assert store.ledger("record", ["resource-1"]) == {}
    store.answer(alive, DONE, None, NOW, "alive")
    with pytest.raises(LeaseLost):
        store.answer(alive, DONE, None, NOW, "alive")
    trail = list(store.audit_entries())
    assert [entry.kind for entry in trail][-4:] == ["sending", "recovered", "sending", "delivered"]
    assert b'"outcome_unknown_before":true' in trail[-1].detail


def test_an_unknown_outcome_is_remembered_over_later_failures(store):
    made_ready(store)
    store.answer(sending(store), TryLater(why="answer lost", outcome_unknown=True), NOW, NOW, "worker")
    store.answer(sending(store), DOWN, NOW, NOW, "worker")
    assert sending(store).outcome_unknown


def test_ledger_way_and_lease_are_noted_part_by_part(store):
    recording = made_ready(store)
    claim = sending(store, lease=timedelta(seconds=60))
    store.note_filed(claim, Way.CONDITIONAL, [a_resource(n) for n in range(1200)], NOW, "worker")
    renewed = a_resource(7, version="2", status="amended")
    store.note_filed(
        claim, Way.CONDITIONAL, [renewed, a_resource(2000), a_resource(2000, version="9")], NOW, "worker"
    )
    found = store.ledger("record", [f"resource-{n}" for n in range(3000)])
    assert len(found) == 1201
    assert found["resource-7"] == renewed and found["resource-2000"].version == "9"
    assert store.ledger("research", ["resource-7"]) == {}
    assert store.story(recording).deliveries[0].way is Way.CONDITIONAL
    store.answer(claim, DOWN, NOW, NOW, "worker")
    assert sending(store).way is Way.CONDITIONAL


def test_noting_a_part_extends_the_lease(store):
    made_ready(store)
    claim = sending(store, lease=OVER)
    store.note_filed(replace(claim, lease=LEASE), Way.PUT, [a_resource()], NOW, "worker")
    assert claim_of(store) is None


def test_rejected_waits_for_a_person_with_the_servers_words(store):
    recording = made_ready(store)
    store.answer(sending(store), rejected(), None, NOW, "worker")
    (item,) = store.held()
    assert (item.kind, item.recording_id, item.destination) == (HeldKind.DELIVERY, recording, "record")
    assert item.answer == "error: not active" and item.rule == "person-inactive" and item.facts == b'{"hold":null}'
    assert store.find_held(item.id[:10]) == item.id
    assert store.find_held(recording[:10]) == item.id, "a recording stands for its one held delivery"
    later = NOW + timedelta(days=1)
    assert store.release(item.id, "A. Nurse", "mended", later) == Decided(recording, "person-inactive")
    claim = sending(store, now=later)
    assert [waiver.rule for waiver in claim.waivers] == ["person-inactive"]


def test_a_waiver_of_one_delivery_does_not_count_for_another(store):
    made_ready(store, outcome=ready("person-1", "record", "research"))
    claim = sending(store, "record")
    store.answer(claim, rejected(), None, NOW, "worker")
    store.release(claim.delivery_id, "A. Nurse", "mended", NOW)
    assert sending(store, "research").waivers == ()


def test_refusing_cancels_what_waits_and_is_held(store):
    recording = made_ready(store, outcome=ready("person-1", "record", "research"))
    store.answer(sending(store, "record"), rejected(), None, NOW, "worker")
    assert store.refuse(recording, "A. Nurse", "wrong person", NOW) == Decided(recording)
    assert store.counts().deliveries == {DeliveryState.CANCELLED: 2}
    assert claim_of(store, ("record", "research")) is None and not store.held()


def test_one_delivery_can_be_refused_alone(store):
    recording = made_ready(store, outcome=ready("person-1", "record", "research"))
    claim = sending(store, "research")
    store.answer(claim, rejected(), None, NOW, "worker")
    store.refuse(claim.delivery_id, "A. Nurse", "not a study member", NOW)
    store.answer(sending(store, "record"), DONE, None, NOW, "worker")
    assert store.story(recording).shown is Shown.DELIVERED


def test_a_recording_whose_last_delivery_is_refused_is_refused_and_told_of_no_more(store):
    recording = made_ready(store, outcome=ready("person-1", "record", "research"))
    for destination in ("record", "research"):
        assert [known.recording_id for known in store.same_person("person-1")] == [recording]
        claim = sending(store, destination)
        store.answer(claim, rejected(), None, NOW, "worker")
        assert store.refuse(claim.delivery_id, "A. Nurse", "not this person", NOW) == Decided(recording)
    assert store.story(recording).shown is Shown.REFUSED
    assert store.same_person("person-1") == () and not list(store.results_since(NOW - timedelta(days=9)))


@pytest.mark.parametrize("step", ["filed", "done"])
def test_a_recording_of_which_something_was_filed_stays_known_when_its_last_held_delivery_is_refused(store, step):
    recording = made_ready(store, outcome=ready("person-1", "record", "research"))
    first = sending(store, "record")
    store.note_filed(first, Way.PUT, [a_resource()], NOW, "worker")
    store.answer(first, DONE if step == "done" else DOWN, NOW, NOW, "worker")
    claim = sending(store, "research")
    store.answer(claim, rejected(), None, NOW, "worker")
    assert store.refuse(claim.delivery_id, "A. Nurse", "not a study member", NOW) == Decided(recording)
    assert store.story(recording).state is RecordingState.READY
    assert [known.recording_id for known in store.same_person("person-1")] == [recording]


@pytest.mark.parametrize("step", ["sending", "unknown", "filed", "done"])
def test_what_is_or_may_be_in_the_record_cannot_be_refused(store, step):
    recording = made_ready(store)
    claim = sending(store)
    if step == "unknown":
        store.answer(claim, TryLater(why="lost", outcome_unknown=True), NOW, NOW, "worker")
    elif step == "filed":
        store.note_filed(claim, Way.PUT, [a_resource()], NOW, "worker")
        store.answer(claim, DOWN, NOW, NOW, "worker")
    elif step == "done":
        store.answer(claim, DONE, None, NOW, "worker")
    before = store.story(recording)
    assert isinstance(store.refuse(recording, "A. Nurse", "x", NOW), NotPossible)
    assert isinstance(store.refuse(claim.delivery_id, "A. Nurse", "x", NOW), NotPossible)
    assert store.story(recording) == before


def test_next_due_tells_when_to_look_again(store):
    assert store.next_due(NOW) is None
    store.receive(b"1", "1", NOW, "service")
    assert store.next_due(NOW) == NOW
    claim = store.claim_received("worker", timedelta(seconds=60), NOW)
    assert timedelta(seconds=50) < store.next_due(NOW) - NOW <= timedelta(seconds=60)
    store.finish_intake(claim, ready(), NOW, "service")
    made_ready(store, b"2")
    assert store.next_due(NOW) == NOW and store.next_due(NOW, ["elsewhere"]) is None
    later = NOW + timedelta(minutes=9)
    store.answer(sending(store), DOWN, later, NOW, "worker")
    assert store.next_due(NOW) == later, "the second waits for the first, so nothing can be done before"
    store.answer(sending(store, now=later), DONE, None, later, "worker")
    sending(store, now=later, lease=timedelta(seconds=60))
    assert timedelta(seconds=50) < store.next_due(later) - later <= timedelta(seconds=60)


def test_overview_counts_what_people_see(store):
    delivered = made_ready(store, b"1", ready("p1", "record", "research"))
    store.answer(sending(store, "record"), DONE, None, NOW, "worker")
    assert store.overview(NOW).recordings == {Shown.PARTLY_DELIVERED: 1}
    store.answer(sending(store, "research"), DONE, None, NOW + timedelta(hours=1), "worker")
    made_ready(store, b"2", ready("p2"))
    store.answer(sending(store), rejected(), None, NOW, "worker")
    waiting = NOW + timedelta(hours=2)
    store.receive(b"3", "3", waiting, "service")
    seen = store.overview(NOW)
    assert seen.recordings == {Shown.DELIVERED: 1, Shown.HELD: 1, Shown.RECEIVED: 1}
    assert seen.oldest_waiting == waiting
    by_name = {state.destination: state for state in seen.destinations}
    assert by_name["research"].last_delivered == NOW + timedelta(hours=1)
    assert (by_name["record"].done, by_name["record"].held, by_name["record"].next_due) == (1, 1, None)
    assert store.story(delivered).shown is Shown.DELIVERED


def test_a_year_can_be_simulated(store):
    """Due times come from the caller, leases from the database: neither disturbs the other."""
    made_ready(store)
    now = NOW
    for _ in range(12):
        now += timedelta(days=30)
        store.answer(sending(store, now=now), DOWN, now + timedelta(days=29), now, "worker")
    assert sending(store, now=now + timedelta(days=29)).attempt == 13


def test_health_keeps_the_last_word(store):
    store.set_health("watch", NOW, {"files": 3})
    store.set_health("watch", NOW + timedelta(minutes=1), {"files": 0})
    store.set_health("record", NOW, {})
    assert {name: (h.at, h.detail) for name, h in store.health().items()} == {
        "record": (NOW, {}),
        "watch": (NOW + timedelta(minutes=1), {"files": 0}),
    }
