"""A clock that stood far ahead is put right: nothing waits until that far day. On both databases."""

from datetime import timedelta

import pytest

from gateway.deliver.backoff import backoff
from gateway.model import LONGEST_WAIT, TryLater
from tests.integration.test_store_nodes import ONE, TWO, beat
from tests.unit.store.cases import LEASE, NOW, a_store, kinds, made_ready, ready, sending, taken_in

DOWN = TryLater(why="the server cannot be reached", unreachable=True)
AHEAD = pytest.mark.parametrize("ahead", [timedelta(hours=3), timedelta(days=3650)])


@AHEAD
def test_a_delivery_put_off_by_a_clock_ahead_waits_as_long_as_was_meant_from_now(store, ahead):
    made_ready(store)
    wrong = NOW + ahead
    store.answer(sending(store, now=wrong), DOWN, wrong + timedelta(minutes=2), wrong, "worker")
    assert store.next_due(NOW) == NOW + timedelta(minutes=2), "the service looks again then"
    assert store.claim_delivery("worker", LEASE, NOW, ["record"]) is None, "its pause is kept"
    assert store.claim_delivery("worker", LEASE, NOW + timedelta(seconds=119), ["record"]) is None
    assert sending(store, now=NOW + timedelta(minutes=2)).attempt == 2


@AHEAD
def test_what_was_queued_by_a_clock_ahead_is_due_at_once(store, ahead):
    claim = taken_in(store)
    assert store.finish_intake(claim, ready(), NOW + ahead, "service")
    assert store.next_due(NOW) == NOW
    assert sending(store).attempt == 1


def test_clocks_of_nodes_that_differ_by_seconds_shorten_no_pause(store):
    made_ready(store)
    other = NOW + timedelta(seconds=50)
    store.answer(sending(store, now=other), DOWN, other + timedelta(minutes=2), other, "worker")
    assert store.next_due(NOW) == other + timedelta(minutes=2)
    assert store.claim_delivery("worker", LEASE, NOW + timedelta(minutes=2), ["record"]) is None


@AHEAD
def test_a_lease_given_while_the_database_s_clock_stood_ahead_is_over(place, ahead):
    with a_store(place) as store:
        made_ready(store)
        first = sending(store)
        other = taken_in(store, b"another")
        assert store.claim_file("mark", "one", LEASE)
        for table in ("deliveries", "recordings", "arrivals"):
            place.execute(f"UPDATE {table} SET lease_until = lease_until + {ahead.total_seconds()}")
        assert store.next_due(NOW) == NOW
        again = sending(store)
        assert again.outcome_unknown and again.fence > first.fence
        taken = store.claim_received("two", LEASE, NOW)
        assert taken is not None and taken.recording_id == other.recording_id
        assert store.claim_file("mark", "two", LEASE)
        assert kinds(store).count("recovered") == 2


@AHEAD
def test_a_node_whose_last_sign_of_life_lies_ahead_is_not_taken_for_alive(place, ahead):
    with a_store(place) as store:
        beat(store, ONE)
        place.execute(f"UPDATE nodes SET seen = seen + {ahead.total_seconds()}")
        beat(store, TWO)
        assert [node.alive for node in store.nodes()] == [False, True]


@AHEAD
def test_a_trace_put_off_by_a_clock_ahead_is_sent(store, ahead):
    store.keep_traces([b"a trace"], NOW + ahead)
    latest = NOW + LONGEST_WAIT if ahead < LONGEST_WAIT else NOW
    assert store.claim_trace(timedelta(minutes=1), latest) is not None


def test_no_pause_is_longer_than_the_longest_wait() -> None:
    asked = TryLater(why="the server answered 429", after=timedelta(days=400))
    assert backoff(99, asked, 0.999) < LONGEST_WAIT and backoff(99, DOWN, 0.999) < LONGEST_WAIT
