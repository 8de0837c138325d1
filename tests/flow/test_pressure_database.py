"""The database is away: before the start, in the middle of the work, and back again."""

from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from scenario import people
from scenario.record import RecordServer

from gateway.cli.options import ExitCode
from gateway.model import Shown
from gateway.store import Store
from tests.flow.day import Day, a_day, wait_until
from tests.flow.pressure import looking_often, said
from tests.flow.test_commands import export, reports
from tests.postgres import Postgres

pytestmark = pytest.mark.service


@pytest.fixture
def server() -> Iterator[Postgres]:
    """A database server of this test's own, as it is stopped."""
    with Postgres() as started:
        yield started


def delivered(address: str) -> int:
    with Store.open(address) as store:
        return store.overview(datetime.now(UTC)).recordings.get(Shown.DELIVERED, 0)


def on_server(day: Day, address: str) -> Day:
    day.config.write_text(f'{day.config.read_text()}\n[store]\nurl = "{address}"\n')
    return looking_often(day)


def test_a_database_that_goes_and_comes_back_loses_nothing(
    server: Postgres, record: RecordServer, tmp_path: Path, today: date
) -> None:
    address = server.place()
    day = on_server(a_day(tmp_path / "day", record.base), address)
    server.stop()
    with day.service() as process:
        wait_until(lambda: bool(said(day, "waiting for the store")), process)
        assert day.command("status").returncode == ExitCode.UNREACHABLE
        first = day.drop("a.csv", export(today))
        server.start()
        wait_until(lambda: len(reports(record, people.ADA)) == 1 and not first.exists(), process)
        server.stop()
        second = day.drop("b.csv", export(today, people.MIRO))
        wait_until(lambda: bool(said(day, "fault", "store")), process)
        status = day.command("status")
        assert status.returncode == ExitCode.UNREACHABLE and "the database cannot be reached" in status.stderr
        assert second.exists() and reports(record, people.MIRO) == []
        server.start()
        wait_until(lambda: not second.exists() and delivered(address) == 2, process)
        wait_until(lambda: bool(said(day, "well again", "store")), process)
        assert "last store: The store cannot be used" in day.command("status").stdout
    for who in (people.ADA, people.MIRO):
        (report,) = reports(record, who)
        assert record.versions("DiagnosticReport", str(report["id"])) == 1
    assert day.command("audit", "verify").returncode == 0
