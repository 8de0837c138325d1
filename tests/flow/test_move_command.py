"""`store move` as its user calls it: the SQLite store becomes the one on a database server, or nothing changes."""

import contextlib
import json
import subprocess
import sys
import time
from datetime import UTC, date, datetime
from pathlib import Path

import psycopg
import pytest
from scenario import people
from scenario.record import RecordServer

from gateway.store import Store
from tests.databases import Place
from tests.flow.day import Day, a_day, clean, wait_until
from tests.flow.test_commands import export, reports
from tests.integration.test_store_move import everything

pytestmark = pytest.mark.service
GROWS = {"audit", "audit_head", "meta"}
"""The move itself is told in the new store's log."""


@pytest.fixture
def day(record: RecordServer, tmp_path: Path, today: date) -> Day:
    """One recording delivered, one held."""
    made = a_day(tmp_path / "day", record.base)
    made.drop("a.csv", export(today))
    made.drop("doubtful.csv", b"nothing that anybody can read")
    assert made.command("once").returncode == 1
    return made


def to_server(day: Day, new: Place) -> None:
    day.config.write_text(f'{day.config.read_text()}\n[store]\nurl = "{new.address}"\n')


def kept(day: Day) -> Path:
    return day.store.with_name(day.store.name + ".moved")


def assert_moved(day: Day, new: Place, before: dict[str, set[tuple[object, ...]]]) -> None:
    after = everything(new)
    for table, rows in before.items():
        assert after[table] >= rows if table == "audit" else table in GROWS or after[table] == rows, table
    assert len(after["audit"]) == len(before["audit"]) + 1
    assert not day.store.exists() and kept(day).exists()


def test_every_row_arrives_and_work_goes_on_there(day: Day, new: Place, record: RecordServer, today: date) -> None:
    before = everything(Place(str(day.store)))
    to_server(day, new)
    assert day.command("store", "move", "--by", "  ").returncode == 2, "somebody must say that it was he"
    assert day.store.exists()
    done = day.command("store", "move", "--by", " R. Marlow ")
    assert done.returncode == 0, done.stderr
    assert f"{sum(map(len, before.values()))} rows moved and compared" in done.stdout
    assert_moved(day, new, before)
    with Store.open(new.address) as store:
        assert list(store.audit_entries())[-1].actor == "R. Marlow"
    day.drop("a again.csv", export(today))
    day.drop("b.csv", export(today, people.MIRO))
    assert day.command("once").returncode == 1, "one is still held"
    assert [len(reports(record, who)) for who in (people.ADA, people.MIRO)] == [1, 1]
    assert day.counts() == {"delivered": 2, "held": 1}
    assert day.command("audit", "verify").returncode == 0
    again = day.command("store", "move", "--by", "R. Marlow")
    assert again.returncode == 2 and "There is no store to move" in again.stderr


def test_a_killed_move_changes_nothing_and_can_be_repeated(day: Day, new: Place) -> None:
    before = everything(Place(str(day.store)))
    Store.open(new.address).close()
    empty = everything(new)
    to_server(day, new)
    with psycopg.connect(new.address) as holder:
        holder.execute("LOCK TABLE deliveries IN ACCESS EXCLUSIVE MODE")  # it comes as far as this
        words = ("store", "move", "--by", "R. Marlow", "--config", str(day.config))
        mover = subprocess.Popen(
            [sys.executable, "-u", "-m", "gateway", *words],
            stdout=subprocess.PIPE,
            env=clean(),
        )
        assert mover.stdout is not None
        told = [mover.stdout.readline().split()[1] for _ in range(3)]
        mover.kill()
        mover.communicate(timeout=30)
    assert told == [b"meta", b"originals", b"recordings"]
    assert day.store.exists() and not kept(day).exists()
    until_gone(new)
    assert everything(new) == empty and everything(Place(str(day.store))) == before
    done = day.command("store", "move", "--by", "R. Marlow", "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["rows"]["recordings"] == 2
    assert_moved(day, new, before)


def test_a_move_killed_after_its_last_row_is_finished_by_the_next(day: Day, new: Place) -> None:
    """Everything is there; only the old file was not put away yet."""
    before = everything(Place(str(day.store)))
    to_server(day, new)
    assert day.command("store", "move", "--by", "R. Marlow").returncode == 0
    kept(day).rename(day.store)
    done = day.command("store", "move", "--by", "R. Marlow")
    assert done.returncode == 0 and "was moved before" in done.stdout, done.stderr
    assert_moved(day, new, before)


def test_a_store_with_work_of_its_own_is_not_written_over(day: Day, new: Place) -> None:
    with Store.open(new.address) as store:
        store.receive(b"theirs", "theirs.csv", datetime.now(UTC), "service")
    theirs, ours = everything(new), everything(Place(str(day.store)))
    to_server(day, new)
    done = day.command("store", "move", "--by", "R. Marlow")
    assert done.returncode == 2 and "holds a store with work in it already; nothing was moved" in done.stderr
    assert everything(new) == theirs and everything(Place(str(day.store))) == ours and not kept(day).exists()


def test_a_running_service_is_not_pulled_from_under_its_work(day: Day, new: Place, tmp_path: Path) -> None:
    with day.service() as process:
        wait_until(lambda: b'"started"' in (day.place / "service.log").read_bytes(), process)
        other = Day(day.place, tmp_path / "moving.toml")
        other.config.write_text(f'{day.config.read_text()}\n[store]\nurl = "{new.address}"\n')
        done = other.command("store", "move", "--by", "R. Marlow")
        assert done.returncode == 2 and "another bp-gateway is already working" in done.stderr
        assert process.poll() is None
    assert day.store.exists() and day.counts() == {"delivered": 1, "held": 1}


def until_gone(new: Place) -> None:
    """The database notices that its client died."""
    deadline = time.monotonic() + 60
    mine = "SELECT count(*) FROM pg_stat_activity WHERE usename = current_user AND pid <> pg_backend_pid()"
    while time.monotonic() < deadline:
        with contextlib.suppress(psycopg.Error):
            if new.ask(mine) == [(0,)]:
                return
        time.sleep(0.2)
    raise AssertionError("the killed move still holds a connection")
