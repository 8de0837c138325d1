"""The disk is full: the gateway keeps what it has, says so, and goes on by itself when there is room again."""

from datetime import date
from pathlib import Path

import pytest
from scenario import people
from scenario.record import RecordServer

from tests.flow.day import Day, a_day, wait_until
from tests.flow.pressure import MOUNTS, FileLimit, fill, looking_often, said, small_disk, states
from tests.flow.test_commands import export, reports

pytestmark = pytest.mark.service
MOST = 65_536
"""Bytes: more than the log gets in these tests, less than any store has."""


def test_files_that_may_not_grow_leave_everything_where_it_is(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    """As where a quota ends. The limit is set on the running process, and lifted again."""
    day = looking_often(a_day(tmp_path / "day", record.base))
    with day.service() as process:
        day.drop("before.csv", export(today))
        wait_until(lambda: len(reports(record, people.ADA)) == 1, process)
        limit = FileLimit(process)
        limit.fill(MOST)
        waiting = day.drop("during.csv", export(today, people.MIRO))
        wait_until(lambda: bool(said(day, "fault", "store")), process)
        assert waiting.exists() and reports(record, people.MIRO) == []
        limit.free()
        wait_until(lambda: len(reports(record, people.MIRO)) == 1, process)
        wait_until(lambda: bool(said(day, "well again", "store")), process)
    assert said(day, "fault", "store")[0] == "The store cannot be used: the disk reports an error."
    assert "last store: The store cannot be used" in day.command("status").stdout
    everything_once(day, record)


if MOUNTS:  # a disk of one's own needs root and a container that lets it; the test above needs neither

    def test_a_full_disk_stops_nothing_for_good(record: RecordServer, tmp_path: Path, today: date) -> None:
        """Store, log, heads, and the folders of files that were taken in lie on it; the inbox lies elsewhere."""
        with small_disk(tmp_path / "small", "48m") as disk:
            day = looking_often(a_day(disk / "day", record.base))
            inbox = tmp_path / "inbox"
            inbox.mkdir()
            day.config.write_text(day.config.read_text().replace(f"{day.place}/inbox", str(inbox)))
            with day.service() as process:
                (inbox / "before.csv").write_bytes(export(today))
                wait_until(lambda: len(reports(record, people.ADA)) == 1, process)
                ballast = fill(disk)
                (inbox / "during.csv").write_bytes(export(today, people.MIRO))
                (inbox / "doubtful.csv").write_bytes(b"nothing that anybody can read")
                status = day.command("status")
                assert status.returncode == 1 and "folder state" in status.stdout and "make room" in status.stdout
                wait_until(lambda: (inbox / "during.csv").exists(), process)
                for _ in range(3):  # the service goes on, and every file stays where it is
                    assert process.poll() is None
                    day.command("status")
                assert (inbox / "during.csv").exists() and (inbox / "doubtful.csv").exists()
                assert reports(record, people.MIRO) == []
                ballast.unlink()
                wait_until(lambda: len(reports(record, people.MIRO)) == 1, process)
                wait_until(lambda: states(day) == {"delivered": 2, "held": 1}, process)
                wait_until(lambda: not list(inbox.iterdir()), process)
                wait_until(lambda: bool(list((day.place / "held").glob("*.why.txt"))), process)
            assert "MEND" not in day.command("status").stdout
            everything_once(day, record)


def everything_once(day: Day, record: RecordServer) -> None:
    for each in (people.ADA, people.MIRO):
        (report,) = reports(record, each)
        assert record.versions("DiagnosticReport", str(report["id"])) == 1
    assert day.command("audit", "verify").returncode == 0
