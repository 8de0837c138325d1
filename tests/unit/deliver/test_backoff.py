"""Waiting grows, is spread, is bounded, and honours what a server asks for."""

from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as some

from gateway.deliver import backoff
from gateway.model import TryLater

PLAIN = TryLater(why="later")
FRACTION = some.floats(min_value=0, max_value=1, exclude_max=True)


def test_the_bound_doubles_from_five_seconds_to_an_hour() -> None:
    almost = 1 - 1e-12
    seconds = [round(backoff(attempt, PLAIN, almost).total_seconds()) for attempt in range(1, 14)]
    assert seconds == [5, 10, 20, 40, 80, 160, 320, 640, 1280, 2560, 3600, 3600, 3600]


@given(some.integers(min_value=0, max_value=10_000), FRACTION)
def test_never_at_once_and_never_longer_than_an_hour(attempt: int, random: float) -> None:
    assert timedelta(seconds=1) <= backoff(attempt, PLAIN, random) <= timedelta(hours=1)


def test_jitter_is_full() -> None:
    waits = [backoff(5, PLAIN, number / 10) for number in range(10)]
    assert waits == [timedelta(seconds=max(1, 8 * number)) for number in range(10)]


@given(some.integers(min_value=1, max_value=50), FRACTION)
def test_never_sooner_than_the_server_asks(attempt: int, random: float) -> None:
    wait = backoff(attempt, TryLater(why="429", after=timedelta(seconds=20)), random)
    assert timedelta(seconds=20) <= wait <= timedelta(seconds=22)


def test_a_server_cannot_ask_for_ever() -> None:
    assert backoff(1, TryLater(why="429", after=timedelta(days=400)), 0.0) == timedelta(hours=6)


def test_a_server_that_asks_for_nothing_still_gets_a_second() -> None:
    assert backoff(1, TryLater(why="429", after=timedelta(0)), 0.0) == timedelta(seconds=1)
