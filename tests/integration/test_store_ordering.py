"""Which order asked for which recording, as the store remembers it."""

from datetime import timedelta

import pytest

from gateway.errors import LeaseLost
from gateway.model import Act, Delivered, TryLater
from gateway.store import DeliveryClaim, Store
from tests.unit.store.cases import NOW, OVER, made_ready, ready, sending

DONE = Delivered(patient="Patient/1", count=3)
LATER = NOW + timedelta(hours=1)
ONE, TWO = "ServiceRequest/1", "ServiceRequest/2"


def filed(store: Store, key: str, order: str, person: str = "person-1") -> str:
    number = made_ready(store, key.encode(), ready(person, key=key))
    claim = sending(store)
    store.keep_order(claim, order, NOW)
    store.answer(claim, DONE, None, NOW, "worker")
    return number


def next_one(store: Store, key: str, person: str = "person-1") -> DeliveryClaim:
    made_ready(store, key.encode(), ready(person, key=key))
    return sending(store)


def test_an_order_belongs_to_the_recording_that_was_filed_for_it(store: Store) -> None:
    filed(store, "key-1", ONE)
    claim = next_one(store, "key-2")
    assert store.order_of(claim) is None
    assert store.orders_taken(claim, {ONE, TWO}) == {ONE}
    assert store.orders_taken(claim, ()) == frozenset()


def test_what_was_decided_stands_in_every_later_attempt(store: Store) -> None:
    claim = next_one(store, "key-1")
    store.keep_order(claim, "", NOW)  # without an order: that stands too
    store.answer(claim, TryLater(why="away"), LATER, NOW, "worker")
    again = sending(store, now=LATER)
    assert store.order_of(again) == ""
    store.keep_order(again, ONE, LATER)
    assert store.order_of(again) == ONE
    assert store.orders_taken(again, {ONE}) == frozenset()  # its own


def test_a_withdrawn_recording_gives_its_order_free_when_the_record_has_given_it_back(store: Store) -> None:
    number = filed(store, "key-1", ONE)
    standing = store.standing(number)
    assert standing is not None
    store.withdraw(number, standing, {"record": b"gone"}, "A. Nurse", "why", NOW)
    claim = sending(store)
    assert claim.act is Act.WITHDRAW
    other = next_one_beside(store)
    assert store.orders_taken(other, {ONE}) == {ONE}
    store.answer(claim, DONE, None, NOW, "worker")
    assert store.orders_taken(other, {ONE}) == frozenset()


def next_one_beside(store: Store) -> DeliveryClaim:
    """Of another person, so that it need not wait."""
    return next_one(store, "key-2", "person-2")


def test_orders_of_another_destination_are_others(store: Store) -> None:
    filed(store, "key-1", ONE)
    made_ready(store, b"key-2", ready("person-1", "archive", key="key-2"))
    assert store.orders_taken(sending(store, "archive"), {ONE}) == frozenset()


def test_a_worker_that_slept_through_its_lease_decides_nothing(store: Store) -> None:
    made_ready(store, b"key-1", ready("person-1", key="key-1"))
    late = sending(store, lease=OVER)
    sending(store)
    with pytest.raises(LeaseLost):
        store.keep_order(late, ONE, NOW)
