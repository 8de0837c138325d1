"""What an answer makes of a delivery."""

from datetime import timedelta

import pytest

from gateway.model import Delivered, DeliveryState, EventKind, RecordingState, Shown, TryLater, shown
from gateway.store.outcome import columns, told
from tests.unit.store.cases import NOW, rejected


@pytest.mark.parametrize(
    ("before", "answer", "after"),
    [
        (False, TryLater(why="down"), False),
        (False, TryLater(why="lost", outcome_unknown=True), True),
        (True, TryLater(why="down"), True),
        (True, Delivered(patient=None, count=3), False),
        (True, rejected(), True),
        (False, rejected(), False),
    ],
)
def test_an_unknown_outcome_stays_unknown_until_somebody_asked_with_success(before, answer, after):
    assert columns(answer, NOW, before)["outcome_unknown"] is after


def test_states_and_events():
    later = NOW + timedelta(minutes=3)
    assert columns(TryLater(why="down"), later, False)["due"] == later
    assert columns(TryLater(why="down"), later, False)["state"] is DeliveryState.WAITING
    assert columns(rejected(), None, False)["state"] is DeliveryState.HELD
    assert columns(Delivered(patient="7", count=3), None, False)["state"] is DeliveryState.DONE
    assert told(TryLater(why="down"), later, False)[1]["due"] == "2026-03-05T12:03:00+00:00"
    assert told(rejected(), None, False) == (
        EventKind.REJECTED,
        {"reason": "person-inactive", "rule": "person-inactive", "answer": "error: not active"},
    )
    assert told(Delivered(patient="7", count=3), None, True)[1]["outcome_unknown_before"] is True


def test_trying_later_needs_a_time():
    with pytest.raises(ValueError):
        columns(TryLater(why="down"), None, False)


@pytest.mark.parametrize(
    ("state", "held", "open_", "done", "withdrawn", "seen"),
    [
        (RecordingState.RECEIVED, 0, 0, 0, 0, Shown.RECEIVED),
        (RecordingState.HELD, 0, 0, 0, 0, Shown.HELD),
        (RecordingState.REFUSED, 0, 0, 0, 0, Shown.REFUSED),
        (RecordingState.READY, 0, 0, 0, 0, Shown.NOWHERE_TO_GO),
        (RecordingState.READY, 0, 2, 0, 0, Shown.DELIVERING),
        (RecordingState.READY, 1, 1, 1, 0, Shown.HELD),
        (RecordingState.READY, 0, 1, 1, 0, Shown.PARTLY_DELIVERED),
        (RecordingState.READY, 0, 0, 2, 0, Shown.DELIVERED),
        (RecordingState.READY, 0, 0, 2, 1, Shown.RETRACTED),
    ],
)
def test_what_people_see(state, held, open_, done, withdrawn, seen):
    assert shown(state, held=held, open_=open_, done=done, withdrawn=withdrawn) is seen
