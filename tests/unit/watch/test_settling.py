"""When is a file finished: looks and events in, names out."""

import pytest

from gateway.watch.listing import Mark
from gateway.watch.settling import Ending, Seen, finished, next_due, observe, offered


def a_mark(size: int = 10, changed: int = 1, inode: int = 1) -> Mark:
    return Mark(device=1, inode=inode, size=size, changed=changed)


def test_without_an_event_a_file_must_rest_for_the_quiet_time() -> None:
    known = observe({}, {"a.csv": a_mark()}, {}, now=100)
    assert finished(known, quiet=10, now=109.9) == ()
    assert finished(known, quiet=10, now=110) == ("a.csv",)


@pytest.mark.parametrize(("ending", "rest"), [(Ending.MOVED_IN, 0.5), (Ending.CLOSED, 1.5)])
def test_an_event_shortens_the_rest(ending: Ending, rest: float) -> None:
    known = observe({}, {"a.csv": a_mark()}, {"a.csv": ending}, now=100)
    assert finished(known, quiet=10, now=100 + rest - 0.01) == ()
    assert finished(known, quiet=10, now=100 + rest) == ("a.csv",)


@pytest.mark.parametrize("later", [a_mark(size=11), a_mark(changed=2), a_mark(inode=2)])
def test_any_change_starts_the_waiting_anew_and_forgets_the_event(later: Mark) -> None:
    known = observe({}, {"a.csv": a_mark()}, {"a.csv": Ending.CLOSED}, now=100)
    known = observe(known, {"a.csv": later}, {}, now=101)
    assert finished(known, quiet=10, now=110.9) == ()
    assert finished(known, quiet=10, now=111) == ("a.csv",)


def test_a_second_event_starts_the_waiting_anew_even_without_a_change() -> None:
    known = observe({}, {"a.csv": a_mark()}, {"a.csv": Ending.CLOSED}, now=100)
    known = observe(known, {"a.csv": a_mark()}, {"a.csv": Ending.CLOSED}, now=101)
    assert finished(known, quiet=10, now=102) == ()
    assert finished(known, quiet=10, now=102.5) == ("a.csv",)


def test_oldest_first_then_by_name() -> None:
    files = {"c.csv": a_mark(changed=5), "b.csv": a_mark(changed=9), "a.csv": a_mark(changed=9)}
    assert finished(observe({}, files, {}, now=0), quiet=1, now=2) == ("c.csv", "a.csv", "b.csv")


def test_a_file_that_stays_is_offered_again_later_and_not_before() -> None:
    known = observe({}, {"a.csv": a_mark()}, {}, now=0)
    known = offered(known, ["a.csv"], again=40)
    assert finished(known, quiet=1, now=39) == ()
    assert finished(known, quiet=1, now=40) == ("a.csv",)


def test_a_file_that_went_is_forgotten() -> None:
    known = observe({}, {"a.csv": a_mark()}, {}, now=0)
    assert observe(known, {}, {}, now=1) == {}


def test_an_event_about_a_file_that_is_not_listed_is_nothing() -> None:
    assert observe({}, {}, {"gone.csv": Ending.CLOSED}, now=0) == {}


def test_a_short_quiet_time_also_shortens_the_rest_after_an_event() -> None:
    assert Seen(mark=a_mark(), since=0, ending=Ending.CLOSED).due(quiet=0.2) == 0.2


def test_next_due_tells_how_long_to_wait() -> None:
    assert next_due({}, quiet=10) is None
    known = observe({}, {"a": a_mark(), "b": a_mark()}, {"b": Ending.MOVED_IN}, now=5)
    assert next_due(known, quiet=10) == 5.5
