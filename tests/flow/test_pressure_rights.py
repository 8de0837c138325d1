"""A right on a folder is lost and given back: nothing else stops, it is said, and what waited goes on by itself."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import pytest
from scenario import people
from scenario.record import RecordServer

from gateway.model.circuit import Circuit
from gateway.store import Store
from tests.flow.day import Day, a_day, wait_until
from tests.flow.pressure import alarm, looking_often, said, states, without_privileges
from tests.flow.test_commands import export, reports
from tests.flow.test_routes import to, with_destination

pytestmark = pytest.mark.service


@contextmanager
def lost(place: Path, left: int) -> Iterator[None]:
    """Only these rights are left, for a while."""
    before = place.stat().st_mode
    place.chmod(left)
    try:
        yield
    finally:
        place.chmod(before)


def handing(day: Day) -> Circuit:
    with Store.open(day.store) as store:
        return store.circuit("handed")


@pytest.fixture
def day(record: RecordServer, tmp_path: Path) -> Day:
    return looking_often(a_day(tmp_path / "day", record.base))


def test_an_inbox_that_cannot_be_listed_is_an_alarm_and_not_an_empty_inbox(
    record: RecordServer, day: Day, today: date
) -> None:
    with day.service(without_privileges) as process:
        wait_until(lambda: bool(said(day, "started")), process)
        with lost(day.place / "inbox", 0o300):
            waiting = day.drop("a.csv", export(today))
            wait_until(lambda: "cannot be listed" in alarm(day, "inbox"), process)
            assert waiting.exists() and day.command("status").returncode == 0
        wait_until(lambda: len(reports(record, people.ADA)) == 1, process)
        wait_until(lambda: not alarm(day, "inbox"), process)


def test_a_file_that_cannot_be_put_away_is_filed_and_moved_later(record: RecordServer, day: Day, today: date) -> None:
    with day.service(without_privileges) as process:
        wait_until(lambda: (day.place / "done").exists(), process)
        with lost(day.place / "done", 0o500):
            first, second = day.drop("a.csv", export(today)), day.drop("b.csv", export(today, people.MIRO))
            wait_until(lambda: bool(reports(record, people.ADA) and reports(record, people.MIRO)), process)
            wait_until(lambda: "files: Permission denied" in alarm(day, "faults"), process)
            assert first.exists() and second.exists() and day.command("status").returncode == 1
        wait_until(lambda: not first.exists() and not second.exists(), process)
        wait_until(lambda: bool(said(day, "well again", "files")), process)
        wait_until(lambda: not alarm(day, "faults"), process)
    assert len(list((day.place / "done").glob("*.csv"))) == 2
    assert len(said(day, "fault", "files")) == 1, "told once, not each time"
    assert [len(reports(record, each)) for each in (people.ADA, people.MIRO)] == [1, 1]
    trail = day.place / "audit.jsonl"
    day.command("audit", "export", "--to", str(trail))
    assert '"seen-again"' not in trail.read_text(), "a file that only waits to be moved is not taken in again"


def test_a_nurse_s_note_that_cannot_be_written_is_written_later(record: RecordServer, day: Day, today: date) -> None:
    unknown = next(each for each in people.EVERYBODY if not each.registered)
    with day.service(without_privileges) as process:
        wait_until(lambda: (day.place / "held").exists(), process)
        with lost(day.place / "held", 0o500):
            doubtful = day.drop("doubtful.csv", b"nothing that anybody can read")
            day.drop("unknown.csv", export(today, unknown))
            wait_until(lambda: states(day) == {"held": 2}, process)
            wait_until(lambda: "files: Permission denied" in alarm(day, "faults"), process)
            assert doubtful.exists() and not list((day.place / "held").iterdir())
        wait_until(lambda: len(list((day.place / "held").glob("*.why.txt"))) == 2, process)
        wait_until(lambda: not doubtful.exists(), process)


def test_heads_that_cannot_be_written_hold_up_no_delivery(record: RecordServer, day: Day, today: date) -> None:
    heads = day.place / "heads" / "heads.jsonl"
    with day.service(without_privileges) as process:
        wait_until(lambda: heads.exists() and heads.stat().st_size > 0, process)
        with lost(heads, 0o400):
            day.drop("a.csv", export(today))
            day.drop("b.csv", export(today, people.MIRO))
            wait_until(lambda: bool(reports(record, people.ADA) and reports(record, people.MIRO)), process)
            wait_until(lambda: "audit heads cannot be written" in alarm(day, "faults"), process)
            size = heads.stat().st_size
        wait_until(lambda: heads.stat().st_size > size, process)
    assert day.command("audit", "verify").returncode == 0


def test_a_destination_s_folder_that_cannot_be_written_keeps_its_work_and_stops_no_other(
    record: RecordServer, day: Day, tmp_path: Path, today: date
) -> None:
    handed = tmp_path / "handed"
    handed.mkdir()
    with_destination(
        day,
        f'name = "handed"\nfolder = "{handed}"\nreadings = "none"\n'
        "[destinations.circuit]\nopens_after = 2\npause = 1\nlongest_pause = 2\n",
    )
    with day.service(without_privileges) as process:
        with lost(handed, 0o500):
            day.drop("a.csv", export(today))
            wait_until(lambda: len(reports(record, people.ADA)) == 1, process)
            wait_until(lambda: handing(day).opened > 0, process)
            assert to(day, "handed") == {"done": 0, "waiting": 1, "held": 0}
        wait_until(lambda: states(day) == {"delivered": 1}, process)
    assert len(list(handed.iterdir())) == 1
