"""The clock of the machine jumps under a running service: it is told, nothing is lost, nothing waits for that day."""

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path

import pytest
from scenario import people
from scenario.record import RecordServer

from gateway.service.opening import opened
from gateway.settings import load
from gateway.settings.maps import load as load_maps
from gateway.store import Store
from tests.flow.day import Day, a_day
from tests.flow.pressure import Clock, eventually, looking_often, states
from tests.flow.test_commands import export, reports

pytestmark = pytest.mark.service


@contextmanager
def working(day: Day, clock: Clock) -> Iterator[None]:
    """The whole service in a thread of this process, with a clock that can be set."""
    settings, stop = load(day.config, {}), threading.Event()
    with opened(settings, load_maps(None), stop, clock) as service:
        thread = threading.Thread(target=service.run, args=(stop,))
        thread.start()
        try:
            yield
        finally:
            stop.set()
            thread.join(120)
            assert not thread.is_alive()


@pytest.mark.parametrize("ahead", [timedelta(hours=3), timedelta(days=9)])
def test_what_was_put_off_while_it_stood_ahead_goes_on_when_it_is_put_right(
    record: RecordServer, tmp_path: Path, today: date, capfd: pytest.CaptureFixture[str], ahead: timedelta
) -> None:
    day, clock = looking_often(a_day(tmp_path / "day", record.base)), Clock()
    with day.config.open("a") as settings:
        settings.write("\n[destinations.pace]\nper_minute = 60\n")
    with working(day, clock):
        day.drop("a.csv", export(today))
        eventually(lambda: len(reports(record, people.ADA)) == 1)
        clock.ahead = ahead
        record.stop()
        day.drop("b.csv", export(today, people.MIRO))
        eventually(lambda: most_attempts(day) > 1)
        record.start()
        clock.ahead = timedelta(0)
        eventually(lambda: len(reports(record, people.MIRO)) == 1)
        day.drop("c.csv", export(today, people.EVERYBODY[2]))
        eventually(lambda: len(reports(record, people.EVERYBODY[2])) == 1)
        with Store.open(day.store) as store:
            assert str(store.health()["clock"].detail["jumped"]).endswith(" back")
    told = capfd.readouterr().err
    assert told.count('"clock jumped"') == 2 and " ahead; set up NTP" in told and " back; set up NTP" in told
    assert day.command("audit", "verify").returncode == 0


def test_a_clock_that_falls_back_stops_nothing(record: RecordServer, tmp_path: Path, today: date) -> None:
    day, clock = looking_often(a_day(tmp_path / "day", record.base)), Clock()
    with working(day, clock):
        clock.ahead = timedelta(hours=-20)
        day.drop("a.csv", export(today))
        eventually(lambda: len(reports(record, people.ADA)) == 1)
        clock.ahead = timedelta(0)
        day.drop("b.csv", export(today, people.MIRO))
        eventually(lambda: len(reports(record, people.MIRO)) == 1)
    assert states(day) == {"delivered": 2}
    assert day.command("audit", "verify").returncode == 0


def most_attempts(day: Day) -> int:
    with sqlite3.connect(f"file:{day.store}?mode=ro", uri=True, timeout=5) as connection:
        (most,) = connection.execute("SELECT max(attempt) FROM deliveries").fetchone()
    return int(most or 0)
