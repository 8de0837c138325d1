"""What was filed is taken back: who may, what is sent where, and what stands meanwhile; on both databases."""

from datetime import timedelta

import pytest

from gateway.errors import StoreError
from gateway.model import Act, Delivered, DeliveryState, EventKind, Shown, TryLater, Way
from gateway.store import Decided, NotPossible, Store
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
    taken_in,
)

LATER = NOW + timedelta(hours=1)
DONE = Delivered(patient="Patient/1", count=3)


def deliver(store: Store, now=NOW, **changes) -> None:
    claim = sending(store, "record", "archive", now=now)
    store.note_filed(claim, Way.PUT, [a_resource(**changes)], now, "worker")
    store.answer(claim, DONE, None, now, "worker")


def filed(store: Store, *destinations: str, **outcome) -> str:
    number = made_ready(store, outcome=ready("person-1", *destinations, **outcome))
    for _ in destinations or ("record",):
        deliver(store)
    return number


def withdraw(store: Store, number: str, now=LATER) -> Decided | NotPossible | None:
    standing = store.standing(number)
    assert standing is not None
    return store.withdraw(number, standing, dict.fromkeys(("record", "archive"), b"gone"), "A. Nurse", "why", now)


def test_what_every_record_holds_is_taken_back_there_in_the_way_in_which_it_came(store):
    number = filed(store, "record", "archive")
    assert withdraw(store, number) == Decided(number)
    claims = [sending(store, "record", "archive", now=LATER) for _ in range(2)]
    assert {(claim.destination, claim.act, claim.content, claim.way) for claim in claims} == {
        (name, Act.WITHDRAW, b"gone", Way.PUT) for name in ("record", "archive")
    }
    (taken_back,) = store.story(number).withdrawals
    assert (taken_back.by, taken_back.why, taken_back.at, taken_back.finished) == ("A. Nurse", "why", LATER, False)
    for claim in claims:
        store.answer(claim, DONE, None, LATER, "worker")
    (taken_back,) = store.story(number).withdrawals
    assert taken_back.finished
    assert store.overview(LATER).recordings == {Shown.RETRACTED: 1}
    assert kinds(store).count(EventKind.RETRACTED) == 1


def test_what_was_sent_nowhere_is_cancelled_and_nothing_is_sent(store):
    number = made_ready(store)
    assert withdraw(store, number) == Decided(number)
    assert store.claim_delivery("worker", LEASE, LATER, ("record",)) is None
    assert store.story(number).withdrawals == ()
    assert store.overview(LATER).recordings == {Shown.REFUSED: 1}


@pytest.mark.parametrize("unknown", [True, False])
def test_a_half_sent_recording_is_not_completed_first(store, unknown):
    number = made_ready(store)
    claim = sending(store)
    if not unknown:
        store.note_filed(claim, Way.PUT, [a_resource()], NOW, "worker")
    store.answer(claim, TryLater(why="away", outcome_unknown=unknown), NOW, NOW, "worker")
    withdraw(store, number)
    claim = sending(store, now=LATER)
    assert (claim.act, claim.content) == (Act.WITHDRAW, b"gone")
    first, second = store.story(number).deliveries
    assert (first.state, second.state) == (DeliveryState.CANCELLED, DeliveryState.SENDING)


def test_what_is_being_sent_at_that_moment_is_overtaken_when_it_breaks_off(store):
    number = made_ready(store)
    sending(store, lease=OVER)
    withdraw(store, number)
    assert sending(store, now=LATER).act is Act.WITHDRAW
    assert EventKind.OVERTAKEN in kinds(store)


def test_what_is_being_sent_at_that_moment_is_waited_for(store):
    number = made_ready(store)
    claim = sending(store)
    withdraw(store, number)
    assert store.claim_delivery("other", LEASE, LATER, ("record",)) is None
    store.answer(claim, DONE, None, LATER, "worker")
    assert sending(store, now=LATER).act is Act.WITHDRAW


def test_only_what_was_seen_as_standing_is_taken_back(store):
    number = made_ready(store)
    seen = store.standing(number)
    deliver(store)
    assert store.withdraw(number, seen, {}, "A. Nurse", "why", LATER) is None
    assert store.story(number).withdrawals == ()


def test_it_is_done_once(store):
    number = filed(store)
    withdraw(store, number)
    assert isinstance(withdraw(store, number), NotPossible)
    assert kinds(store).count(EventKind.RETRACTED) == 1


def test_a_begun_withdrawal_can_be_tried_again_but_not_refused(store):
    number = filed(store)
    withdraw(store, number)
    claim = sending(store, now=LATER)
    store.answer(claim, rejected("changed-in-the-record"), None, LATER, "worker")
    assert isinstance(store.refuse(claim.delivery_id, "A. Nurse", "why", LATER), NotPossible)
    assert isinstance(store.refuse(number, "A. Nurse", "why", LATER), NotPossible)
    assert isinstance(store.release(number, "A. Nurse", "why", LATER), NotPossible)
    assert store.find_held(claim.delivery_id[:8], refused=True) == claim.delivery_id
    assert store.find_held(number[:8], refused=True) == claim.delivery_id
    assert store.release(claim.delivery_id, "A. Nurse", "why", LATER) == Decided(number, "changed-in-the-record")
    assert [waiver.rule for waiver in sending(store, now=LATER).waivers] == ["changed-in-the-record"]


def test_the_notice_is_acknowledged_by_name_once_and_only_when_all_is_taken_back(store):
    number = filed(store)
    assert isinstance(store.acknowledge(number, "Dr A. Example", NOW), NotPossible)
    withdraw(store, number)
    assert isinstance(store.acknowledge(number, "Dr A. Example", LATER), NotPossible)
    assert (store.open_withdrawals(), store.open_notices()) == ((number,), ())
    store.answer(sending(store, now=LATER), DONE, None, LATER, "worker")
    assert store.open_notices() == (number,)
    assert store.acknowledge(number, "Dr A. Example", LATER) == Decided(number)
    assert isinstance(store.acknowledge(number, "Dr B. Example", LATER), NotPossible)
    assert (store.open_withdrawals(), store.open_notices()) == ((), ())
    assert store.story(number).withdrawals[0].acknowledged_by == "Dr A. Example"


def test_filed_again_it_has_a_new_number_and_a_new_delivery(store):
    number = filed(store)
    withdraw(store, number)
    store.answer(sending(store, now=LATER), DONE, None, LATER, "worker")
    (gone,) = store.withdrawn("person-1")
    assert (gone.recording_id, gone.issue, gone.finished, gone.instants) == (number, 2, True, ready().instants)
    assert store.same_person("person-1") == ()
    assert store.find_held(number[:8], refused=True) == number
    store.release(number, "A. Nurse", "right after all", LATER)
    claim = store.claim_received("worker", LEASE, LATER)
    assert [waiver.rule for waiver in claim.waivers] == ["withdrawn-before"]
    assert store.finish_intake(claim, ready(key="key-2", issue=2), LATER, "worker")
    deliver(store, LATER, number=2)
    story = store.story(number)
    assert [(each.key, each.act) for each in story.deliveries] == [
        ("key-1", Act.FILE),
        ("key-1", Act.WITHDRAW),
        ("key-2", Act.FILE),
    ]
    assert (story.issue, story.shown) == (2, Shown.DELIVERED)
    assert [each.recording_id for each in store.same_person("person-1")] == [number]


def test_the_same_bytes_again_are_worked_on_again(store):
    number = filed(store)
    withdraw(store, number)
    store.answer(sending(store, now=LATER), DONE, None, LATER, "worker")
    assert taken_in(store).recording_id == number


def test_unknown_numbers_are_told(store):
    with pytest.raises(StoreError):
        store.standing("nobody")
    with pytest.raises(StoreError):
        store.content("nobody")
    assert isinstance(store.acknowledge("nobody", "A. Nurse", NOW), NotPossible)
