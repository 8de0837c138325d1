"""The circuit breaker as a table of what happens: which answers open it, what a probe does, how long it rests."""

from datetime import UTC, datetime, timedelta

import pytest

from gateway.deliver.circuit import CircuitRule, Passage, after, passage, probing
from gateway.model import Answer, Delivered, Hold, HoldReason, Rejected, TryLater
from gateway.model.circuit import CLOSED, Circuit

NOW = datetime(2026, 3, 5, 12, 0, tzinfo=UTC)
RULE = CircuitRule(opens_after=3, pause=timedelta(seconds=30), longest=timedelta(seconds=100))
AWAY = TryLater(why="the server cannot be reached", unreachable=True)
ILL = TryLater(why="the server answered 503", outcome_unknown=True)
DONE = Delivered(patient="Patient/1", count=3)


def told(*answers: tuple[str, Answer], start: Circuit = CLOSED, now: datetime = NOW) -> Circuit:
    circuit = start
    for recording, answer in answers:
        circuit = after(circuit, answer, recording, now, RULE)
    return circuit


def test_nobody_there_opens_it_at_the_third_time_even_with_one_recording() -> None:
    assert passage(told(("a", AWAY), ("a", AWAY)), NOW) is Passage.ALL
    circuit = told(("a", AWAY), ("a", AWAY), ("a", AWAY))
    assert circuit.until == NOW + timedelta(seconds=30) and circuit.since == NOW
    assert passage(circuit, NOW) is Passage.NONE


def test_a_recording_at_which_the_server_stumbles_each_time_opens_nothing() -> None:
    assert passage(told(*[("poison", ILL)] * 50), NOW) is Passage.ALL


def test_three_recordings_at_which_it_stumbles_open_it() -> None:
    assert passage(told(("a", ILL), ("b", ILL), ("a", ILL)), NOW) is Passage.ALL
    assert passage(told(("a", ILL), ("b", ILL), ("c", ILL)), NOW) is Passage.NONE


@pytest.mark.parametrize("reason", [reason for reason in HoldReason if reason.value.startswith(("person", "record"))])
def test_a_server_that_says_no_works(reason: HoldReason) -> None:
    assert told(("a", AWAY), ("b", AWAY), ("c", Rejected(hold=Hold(reason=reason)))) == CLOSED


@pytest.mark.parametrize("reason", [HoldReason.PROCESSING_FAULT, HoldReason.CONTENT_FAULT])
def test_our_own_fault_says_nothing_of_the_server(reason: HoldReason) -> None:
    before = told(("a", AWAY), ("b", AWAY))
    assert told(("c", Rejected(hold=Hold(reason=reason))), start=before) == before


def test_after_its_pause_one_probes_and_closes_it_or_doubles_the_pause_up_to_the_longest() -> None:
    circuit = told(("a", AWAY), ("a", AWAY), ("a", AWAY))
    for pause in (60, 100, 100):
        assert circuit.until is not None
        moment = circuit.until
        assert passage(circuit, moment) is Passage.PROBE
        reserved = probing(circuit, moment, RULE)
        assert passage(reserved, moment) is Passage.NONE, "one probe at a time"
        assert told(("a", DONE), start=reserved, now=moment) == CLOSED
        circuit = told(("a", ILL), start=reserved, now=moment)
        assert circuit.until == moment + timedelta(seconds=pause)
        assert circuit.since == NOW


def test_a_probe_that_never_answers_leaves_the_next_one_possible() -> None:
    circuit = told(("a", AWAY), ("a", AWAY), ("a", AWAY))
    assert circuit.until is not None
    reserved = probing(circuit, circuit.until, RULE)
    assert reserved.until is not None
    assert passage(reserved, reserved.until) is Passage.PROBE


def test_the_server_s_own_wish_is_the_least_pause() -> None:
    busy = TryLater(why="the server answered 429", after=timedelta(hours=1))
    circuit = told(("a", busy), ("b", busy), ("c", busy))
    assert circuit.until == NOW + timedelta(hours=1)


def test_a_clock_that_jumped_back_a_year_does_not_rest_for_a_year() -> None:
    circuit = told(("a", AWAY), ("a", AWAY), ("a", AWAY))
    assert passage(circuit, NOW - timedelta(days=365)) is Passage.PROBE
    assert passage(circuit, NOW + timedelta(days=365)) is Passage.PROBE


def test_what_is_remembered_does_not_grow() -> None:
    circuit = told(*[(f"r{number}", answer) for number in range(500) for answer in (ILL, AWAY)])
    assert circuit.count <= 11 * RULE.opens_after
