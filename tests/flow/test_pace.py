"""Pace and circuit of each destination, seen by the commands: real servers, one of them silent, down or slow."""

import json
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from datetime import time as clock
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from scenario import layouts, people
from scenario.days import LONDON
from scenario.record import RecordServer, free_port

from tests.flow.day import Day, a_day, wait_until
from tests.flow.test_commands import QUIET, export
from tests.flow.test_routes import to, with_destination

pytestmark = pytest.mark.service
REGISTERED = [each for each in people.EVERYBODY if each.registered][:4]


@contextmanager
def silent() -> Iterator[str]:
    """A server that takes every connection and never says a word."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        listener.settimeout(0.1)
        stop, kept = threading.Event(), []

        def listen() -> None:
            while not stop.is_set():
                try:
                    kept.append(listener.accept()[0])
                except TimeoutError:
                    continue

        thread = threading.Thread(target=listen)
        thread.start()
        try:
            yield f"http://127.0.0.1:{listener.getsockname()[1]}/fhir"
        finally:
            stop.set()
            thread.join()
            for each in kept:
                each.close()


def drop_all(day: Day, today: date) -> int:
    """One recording of every registered person."""
    start = datetime.combine(today - timedelta(days=2), clock(9, 0), LONDON)
    for number, who in enumerate(REGISTERED):
        day.drop(f"{number}.csv", layouts.plain(who, QUIET, start, serial=f"T-{number}", seed=number))
    return len(REGISTERED)


def test_a_silent_server_delays_no_other_and_rests_after_a_few_attempts(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    with silent() as address:
        day = a_day(tmp_path / "day", record.base)
        with_destination(
            day,
            f'name = "region"\nurl = "{address}"\nreadings = "none"\nread_timeout = 2\n'
            "[destinations.circuit]\nopens_after = 2\npause = 3600\nlongest_pause = 3600\n",
        )
        number = drop_all(day, today)
        with day.service() as process:
            wait_until(lambda: to(day, "record").get("done") == number, process)
            wait_until(lambda: "region" in day.facts("status")["circuits"], process)
            wait_until(lambda: day.facts("status")["circuits"]["region"]["until"] is not None, process)
        assert to(day, "region") == {"done": 0, "waiting": number, "held": 0}
        shown = day.command("status").stdout
        assert "resting since" in shown and "2 failures in a row" in shown
        log = [json.loads(line) for line in (day.place / "service.log").read_text().splitlines()]
        assert [line["destination"] for line in log if line["event"] == "destination rests"] == ["region"]
        begun = time.monotonic()
        done = day.command("once")  # a restart asks nobody who rests
        assert done.returncode == 3
        assert f"{number} wait for region: resting since" in done.stdout
        assert time.monotonic() - begun < 60
        assert day.facts("status")["circuits"]["region"]["opened"] == 1


def test_a_server_that_comes_back_is_probed_once_and_gets_everything(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    region = RecordServer(tmp_path / "region")
    with region:  # it knows the persons before anybody asks it
        for place, person in enumerate(REGISTERED):
            region.put({**person.patient, "id": f"regional-{place}"})
    with_destination(
        day,
        f'name = "region"\nurl = "{region.base}"\nreadings = "none"\n'
        "[destinations.circuit]\nopens_after = 3\npause = 1\nlongest_pause = 2\n",
    )
    number = drop_all(day, today)
    with day.service() as process:
        wait_until(lambda: to(day, "record").get("done") == number, process)
        wait_until(lambda: (day.facts("status")["circuits"].get("region") or {"opened": 0})["opened"] > 1, process)
        with region:
            wait_until(lambda: to(day, "region")["done"] == number, process, 240)
            assert day.facts("status")["circuits"] == {}
            assert len(region.search("DiagnosticReport")) == number
    assert '"destination answers again"' in (day.place / "service.log").read_text()


def test_the_rate_is_kept_and_once_waits_for_it(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base)
    with day.config.open("a") as settings:
        settings.write("\n[destinations.pace]\nper_minute = 30\nat_once = 2\n")
    number = drop_all(day, today)
    begun = time.monotonic()
    done = day.command("once")
    assert done.returncode == 0, done.stdout
    assert to(day, "record")["done"] == number
    assert time.monotonic() - begun > 2 * (number - 2), "30 a minute are one every two seconds"
    assert len(record.search("DiagnosticReport")) == number


def test_outside_its_hours_nothing_is_sent_and_once_says_so(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    local = datetime.now(ZoneInfo("Europe/London"))
    begin, end = (f"{local + timedelta(hours=hours):%H}:00" for hours in (3, 5))
    plain = day.config.read_text()
    day.config.write_text(plain + f'\n[destinations.pace]\nhours = ["{begin}-{end}"]\n')
    day.drop("a.csv", export(today))
    done = day.command("once")
    assert done.returncode == 0
    assert "1 wait for record: it is sent to only in its own hours" in done.stdout
    assert record.search("DiagnosticReport") == []
    day.config.write_text(plain)
    assert day.command("once").returncode == 0
    assert len(record.search("DiagnosticReport")) == 1


def test_a_pace_that_cannot_be_is_refused_in_words(tmp_path: Path) -> None:
    day = a_day(tmp_path / "day", f"http://127.0.0.1:{free_port()}/fhir")
    with day.config.open("a") as settings:
        settings.write('\n[destinations.pace]\nhours = ["6-18"]\nat_once = 0\n')
        settings.write("[destinations.circuit]\npause = 60\nlongest_pause = 5\n")
    said = day.command("check").stderr
    assert 'destinations.record.pace.hours: write spans of the local day such as ["18:00-06:00"]' in said
    assert "destinations.record.pace.at_once" in said
    assert "destinations.record.circuit: longest_pause is shorter than pause" in said
