"""Ways in which a file comes into the folder, from its bytes to what is filed or held, with the real service.

Each is a fault that pick-up services are known for; the public reports stand beside it. What the inbox does by itself
is in `tests/integration/test_watch.py`.
"""

import json
import os
import shutil
import time
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from subprocess import Popen
from typing import Any

import pytest
from scenario.record import RecordServer

from gateway.model import HoldReason, RecordingState
from gateway.service.storing import opened_store
from gateway.settings import load
from gateway.store import Story
from tests.flow.day import Day, a_day, entries, wait_until
from tests.flow.site import Site, a_site
from tests.integration.proxy import Answer, Fault, Proxy, Seen

PEOPLE = ("9990000018", "9990000026", "9990000034", "9990000042")
BEGAN = datetime(2026, 3, 3, 9, 0)  # noqa: DTZ001  (a wall clock)
HEADER = "time,systolic,diastolic,heart_rate"


def an_export(person: int = 0, rows: int = 70) -> bytes:
    """A day of readings every 20 minutes; 70 of them are 23 hours."""
    facts = [
        "identifier_system,https://fhir.nhs.uk/Id/nhs-number",
        f"identifier,{PEOPLE[person]}",
        "birth_date,1961-04-09",
        f"monitor_serial,LM-{person}",
        "planned_hours,24",
        "interval_minutes_day,20",
        "interval_minutes_night,20",
        "asleep_from,2026-03-03T23:00",
        "asleep_to,2026-03-04T07:00",
        "timezone,Europe/London",
        "",
        HEADER,
    ]
    at = [BEGAN + timedelta(minutes=20 * n + 3 * person) for n in range(rows)]
    lines = [
        f"{each:%Y-%m-%dT%H:%M},{118 + n * (person + 2) % 17},{66 + n * (person + 3) % 11},70"
        for n, each in enumerate(at)
    ]
    return ("\n".join([*facts, *lines]) + "\n").encode()


@pytest.fixture
def running(tmp_path: Path) -> Iterator[tuple[Site, Popen[bytes]]]:
    site = a_site(tmp_path, quiet=3.0)
    with site.service() as process:
        wait_until(lambda: entries(site.store) >= 1, process)
        yield site, process


def filed(site: Site) -> list[dict[str, Any]]:
    return [json.loads(each.read_text()) for each in (site.place / "out").glob("*.json")]


def settled(site: Site, process: Popen[bytes], count: int, seconds: float = 300) -> list[Story]:
    """The stories, once so many recordings are filed or held and nothing is left in the inbox."""

    def over() -> bool:
        done = sum(number for state, number in site.counts().items() if state in ("delivered", "held"))
        return done >= count and site.lying("inbox") == []

    wait_until(over, process, seconds)
    return site.stories()


def kinds(site: Site) -> Counter[str]:
    return Counter(event.kind.value for story in site.stories() for event in story.events)


@pytest.mark.service
def test_a_file_that_is_written_in_two_goes_is_read_once_and_whole(running: tuple[Site, Popen[bytes]]) -> None:
    """https://github.com/gorakhargosh/watchdog/issues/586, /787"""
    site, process = running
    content = an_export()
    cut = content.index(b"\n", content.index(HEADER.encode()) + 400)
    with (site.place / "inbox" / "a.csv").open("wb") as file:
        file.write(content[:cut])
        file.flush()
        time.sleep(2)  # the pause is what the test is about; it is shorter than the quiet time
        assert site.stories() == []
        file.write(content[cut:])
    (story,) = settled(site, process, 1)
    assert story.state is RecordingState.READY
    read = next(event.detail for event in story.events if event.kind.value == "read")
    assert read["attempts"] == 70
    assert len(filed(site)) == 1


@pytest.mark.service
def test_a_file_whose_writer_died_is_filed_as_the_short_one_it_is(running: tuple[Site, Popen[bytes]]) -> None:
    """https://github.com/gorakhargosh/watchdog/issues/586: never silently a full day"""
    site, process = running
    site.drop("a.csv", an_export(rows=12))
    (story,) = settled(site, process, 1)
    read = next(event.detail for event in story.events if event.kind.value == "read")
    assert (read["attempts"], read["adequacy"]) == (12, "not-adequate")
    assert {"ended-early", "adequacy-rule"} <= set(map(str, read["findings"]))  # type: ignore[call-overload]
    said = json.dumps(filed(site))
    assert "The readings stop after 3 h 40 min; 24 hours were planned." in said
    assert "Repeating the recording is advised." in said


@pytest.mark.service
def test_a_file_that_grows_in_chunks_is_one_job(running: tuple[Site, Popen[bytes]]) -> None:
    """https://github.com/gorakhargosh/watchdog/issues/309"""
    site, process = running
    content = an_export()
    size = len(content) // 6 + 1
    for at in range(0, len(content), size):
        with (site.place / "inbox" / "a.csv").open("ab") as file:
            file.write(content[at : at + size])
        time.sleep(0.5)  # less than a closed file must rest
    (story,) = settled(site, process, 1)
    assert story.state is RecordingState.READY
    assert kinds(site)["received"] == kinds(site)["read"] == kinds(site)["ready"] == 1


@pytest.mark.service
def test_a_name_for_writing_is_never_opened_and_the_final_one_taken_once(
    running: tuple[Site, Popen[bytes]], tmp_path: Path
) -> None:
    """https://github.com/angelolab/toffy/pull/359, https://github.com/jfernandez/mdserve/pull/40"""
    site, process = running
    half = site.drop("day1.csv.part", an_export())
    elsewhere = tmp_path / "day2.csv"
    elsewhere.write_bytes(an_export(1))
    os.utime(elsewhere, (time.time() - 86_400, time.time() - 86_400))
    elsewhere.rename(site.place / "inbox" / "day2.csv")  # finished elsewhere, with its old time
    (other,) = [story for story in settled_some(site, process) if story.name == "day2.csv"]
    assert other.state is RecordingState.READY
    assert half.exists() and len(site.stories()) == 1
    half.rename(site.place / "inbox" / "day1.csv")
    stories = settled(site, process, 2)
    assert sorted(story.name for story in stories) == ["day1.csv", "day2.csv"]
    assert kinds(site)["received"] == 2


def settled_some(site: Site, process: Popen[bytes]) -> list[Story]:
    wait_until(lambda: site.counts().get("delivered", 0) >= 1, process)
    return site.stories()


@pytest.mark.service
def test_without_any_event_the_listing_finds_the_file_and_health_tells_when(tmp_path: Path) -> None:
    """https://github.com/gorakhargosh/watchdog/issues/409, https://github.com/dotnet/runtime/issues/76397"""
    site = a_site(tmp_path, quiet=0.5, sweep=1.0, events=False)
    with site.service() as process:
        wait_until(lambda: entries(site.store) >= 1, process)
        before = listed(site)
        site.drop("a.csv", an_export())
        (story,) = settled(site, process, 1)
        assert story.state is RecordingState.READY
        wait_until(lambda: listed(site) > before, process, 60)


def listed(site: Site) -> str:
    """When the inbox was last listed in full, as `status` tells it."""
    parts = site.facts("status")["health"]
    return str(parts["inbox"]["at"]) if "inbox" in parts else ""


@pytest.mark.service
def test_files_that_wait_at_the_start_are_handled_oldest_first(tmp_path: Path) -> None:
    """https://github.com/docspell/dsc/issues/46, https://github.com/samuelcolvin/watchfiles/issues/139"""
    site = a_site(tmp_path)
    for age, name, person in ((30, "c.csv", 0), (20, "a.csv", 1), (10, "b.csv", 2)):
        path = site.drop(name, an_export(person))
        os.utime(path, (time.time() - age, time.time() - age))
    with site.service() as process:
        stories = settled(site, process, 3)
    in_order = sorted(stories, key=lambda story: story.received_at)
    assert [story.name for story in in_order] == ["c.csv", "a.csv", "b.csv"]
    assert len(filed(site)) == 3


@pytest.mark.service
def test_an_old_time_shuts_no_file_out(running: tuple[Site, Popen[bytes]], tmp_path: Path) -> None:
    """https://github.com/siteboon/claudecodeui/issues/1021: what is new is told by content, never by the clock"""
    site, process = running
    site.drop("today.csv", an_export())
    settled(site, process, 1)
    old = tmp_path / "old.csv"
    old.write_bytes(an_export(1))
    os.utime(old, (time.time() - 30 * 86_400, time.time() - 30 * 86_400))
    shutil.copy2(old, site.place / "inbox" / "old.csv")  # keeps the time
    stories = settled(site, process, 2)
    assert {story.state for story in stories} == {RecordingState.READY}


@pytest.mark.service
def test_fifteen_hundred_files_at_once_all_come_to_an_end(tmp_path: Path) -> None:
    """https://github.com/gorakhargosh/watchdog/issues/825: events get lost. What came in, came out by the log."""
    site = a_site(tmp_path, sweep=2.0)
    with site.service() as process:
        wait_until(lambda: entries(site.store) >= 1, process)
        for number in range(1500):
            site.drop(f"{number:04}.csv", b"%d\n" % number)
        wait_until(lambda: site.lying("inbox") == [], process, 600)
    stories = site.stories()
    assert len(stories) == 1500
    assert {story.hold.reason for story in stories if story.hold} == {HoldReason.NO_MAP}
    assert kinds(site)["received"] == kinds(site)["held"] == 1500
    assert len(site.lying("held")) == 1500
    assert site.command("audit", "verify").returncode == 0


@pytest.mark.service
def test_the_same_bytes_again_under_any_name_file_nothing_and_are_put_away(tmp_path: Path) -> None:
    """https://github.com/paperless-ngx/paperless-ngx/issues/1851: nor are they tried again at every restart"""
    site = a_site(tmp_path)
    with site.service() as process:
        site.drop("a.csv", an_export())
        settled(site, process, 1)
        before = filed(site)
        for times, name in enumerate(("b.csv", "a.csv"), start=1):
            site.drop(name, an_export())
            wait_until(lambda times=times: kinds(site)["seen-again"] == times, process)
            wait_until(lambda: site.lying("inbox") == [], process)
    for _ in range(2):
        with site.service() as process:
            settled(site, process, 1)
    (story,) = site.stories()
    assert kinds(site)["seen-again"] == 2 and story.state is RecordingState.READY
    assert filed(site) == before
    assert site.lying("done") == [".csv"] * 3 and site.lying("held") == []


@pytest.mark.service
def test_a_kill_after_the_record_took_it_and_before_we_noted_it_leaves_one_copy(
    record: RecordServer, tmp_path: Path
) -> None:
    """https://github.com/openclaw/openclaw/pull/38668: the other side accepted it, every restart sends again"""
    with Proxy(record.base) as proxy:
        day = a_day(tmp_path / "day", proxy.base)
        day.config.write_text(day.config.read_text() + "\n[bounds]\nhold_historical = false\n")
        victim: list[Popen[bytes]] = []

        def die(seen: Seen, ask: Any) -> Answer | None:
            answer: Answer = ask(seen)
            assert answer.status == 200, "the record took it"
            victim[0].kill()
            return None

        proxy.faults = [Fault(die, times=3)]
        day.drop("a.csv", an_export())
        kills = 0
        for _ in range(3):
            with day.service() as process:
                victim[:] = [process]
                until(lambda process=process: process.poll() is not None or delivered(day) == 1)
                kills += process.poll() is not None
        with day.service() as process:
            victim[:] = [process]
            wait_until(lambda: delivered(day) == 1, process)
    assert kills >= 2
    (patient,) = record.search("Patient", identifier=f"https://fhir.nhs.uk/Id/nhs-number|{PEOPLE[0]}")
    own = Counter(
        each["identifier"][0]["value"]
        for kind in ("Observation", "DiagnosticReport")
        for each in record.search(kind, subject=f"Patient/{patient['id']}")
    )
    assert own and max(own.values()) == 1, "a resource is doubled"
    with opened_store(load(day.config, {})) as store:
        (recording,) = {entry.recording for entry in store.audit_entries() if entry.recording}
        events = store.story(recording).events
    unknown = [event for event in events if event.kind.value == "sending" and event.detail["outcome_unknown"]]
    assert len(unknown) == kills, "each retry says that nobody knew how the one before ended"
    assert [event.kind.value for event in events].count("delivered") == 1


def delivered(day: Day) -> int:
    return day.counts().get("delivered", 0)


def until(reached: Callable[[], bool], seconds: float = 300) -> None:
    deadline = time.monotonic() + seconds
    while not reached():
        assert time.monotonic() < deadline
        time.sleep(0.05)
