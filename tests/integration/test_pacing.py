"""Gates over a real store on both databases: hours, rate, one probe whoever asks, and what outlives a restart."""

import threading
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from gateway.deliver.circuit import CircuitRule
from gateway.model import Delivered, TryLater
from gateway.model.circuit import CLOSED
from gateway.pacing import Gates, Pace

NOW = datetime(2026, 3, 5, 12, 0, tzinfo=UTC)
LONDON = ZoneInfo("Europe/London")
RULE = CircuitRule(opens_after=2, pause=timedelta(seconds=30))
AWAY = TryLater(why="the server cannot be reached", unreachable=True)
DONE = Delivered(patient="Patient/1", count=3)


def gates(store, told=None, **pace):
    paces = {name: Pace(zone=LONDON, circuit=RULE, **pace) for name in ("record", "region")}
    return Gates(store, paces, lambda *change: None if told is None else told.append(change))


def open_names(gates, now=NOW):
    passes = gates.enter(("record", "region"), now)
    gates.leave(passes, None, now)
    return set(passes)


def opened(gates):
    for _ in range(2):
        gates.answered("region", "a", AWAY, NOW)


def test_failures_of_one_close_the_other_not_and_are_told_once(store):
    told = []
    gate = gates(store, told)
    opened(gate)
    gate.answered("record", "a", DONE, NOW)
    assert open_names(gate) == {"record"}
    assert [(name, before.until, after.count) for name, before, after in told] == [("region", None, 2)]
    assert "cannot be reached" in gate.stopped_by("region", NOW)
    assert gate.stopped_by("record", NOW) == ""


def test_it_rests_after_a_restart_too_and_one_probe_closes_it_for_everybody(store):
    opened(gates(store))
    restarted, other_node = gates(store), gates(store)
    assert open_names(restarted) == {"record"}
    later = NOW + timedelta(seconds=31)
    passes = restarted.enter(("record", "region"), later)
    assert passes.keys() == {"record", "region"}
    assert other_node.enter(("region",), later) == {}, "the probe is taken"
    restarted.leave(passes, "region", later)
    assert other_node.enter(("region",), later) == {}
    restarted.answered("region", "a", DONE, later)
    assert open_names(other_node, later) == {"record", "region"}
    assert store.circuits() == {}


def test_a_probe_that_found_nothing_to_send_stays_possible(store):
    gate = gates(store)
    opened(gate)
    later = NOW + timedelta(seconds=31)
    for _ in range(3):
        assert open_names(gate, later) == {"record", "region"}


def test_of_many_threads_that_ask_at_once_one_probes(store):
    opened(gates(store))
    later, start, won = NOW + timedelta(seconds=31), threading.Barrier(8), []

    def ask():
        gate = gates(store)
        start.wait(10)
        won.extend(gate.enter(("region",), later))

    threads = [threading.Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert won == ["region"]


def test_a_success_without_failures_before_writes_nothing(store):
    gate = gates(store)
    gate.answered("record", "a", DONE, NOW)
    assert store.circuit("record") == CLOSED
    assert store.health() == {}


def test_the_rate_spaces_what_is_sent_and_unused_passes_cost_nothing(store):
    gate = gates(store, per_minute=20)
    sent, moment = [], NOW
    while moment < NOW + timedelta(minutes=1):
        passes = gate.enter(("record",), moment)
        gate.leave(passes, "record" if passes else None, moment)
        sent += [moment] * len(passes)
        open_names(gate, moment)
        moment += timedelta(seconds=0.5)
    assert len(sent) == 20
    assert gate.wait_for_rate("record", sent[-1]) == pytest.approx(3.0)
    assert gate.wait_for_rate("region", moment) == 0.0


@pytest.mark.parametrize("ahead", [timedelta(hours=3), timedelta(days=3650)])
def test_a_clock_that_stood_ahead_and_is_put_right_keeps_no_destination_waiting(store, ahead):
    wrong = NOW + ahead
    gate = gates(store, per_minute=20)
    passes = gate.enter(("record",), wrong)
    gate.leave(passes, "record", wrong)
    for _ in range(2):
        gate.answered("region", "a", AWAY, wrong)
    assert open_names(gate, wrong) == set(), "the rate of one, the rest of the other"
    assert gate.wait_for_rate("record", NOW) == 0.0
    assert open_names(gate) == {"record", "region"}, "one may probe at once"
    assert open_names(gate) == {"record", "region"}, "and again, as nobody used it"
    passes = gates(store).enter(("region",), NOW)
    assert passes.keys() == {"region"} and gate.enter(("region",), NOW) == {}, "only one probes"


@pytest.mark.parametrize(
    ("local", "hours", "open_"),
    [
        ("17:59", (time(18), time(6)), False),
        ("18:00", (time(18), time(6)), True),
        ("00:10", (time(18), time(6)), True),
        ("06:00", (time(18), time(6)), False),
        ("12:30", (time(12), time(13)), True),
        ("13:00", (time(12), time(13)), False),
    ],
)
def test_the_hours_are_those_of_the_site_also_in_summer(store, local, hours, open_):
    hour, minute = (int(part) for part in local.split(":"))
    summer = datetime(2026, 7, 1, hour, minute, tzinfo=LONDON).astimezone(UTC)
    gate = gates(store, hours=(hours,))
    assert (open_names(gate, summer) == {"record", "region"}) is open_
    assert (gate.stopped_by("record", summer) == "") is open_
