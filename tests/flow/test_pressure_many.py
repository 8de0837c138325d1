"""Thousands wait in the inbox: oldest first, nothing starves, memory stays as it was, and it can be stopped."""

import os
import signal
import sqlite3
import time
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from scenario import people
from scenario.record import RecordServer

from gateway.store import Store
from tests.flow.day import Day, a_day, wait_until
from tests.flow.pressure import looking_often, states
from tests.flow.test_commands import export, reports

pytestmark = pytest.mark.service
MANY = 800
REAL = {0: people.ADA, 40: people.MIRO}
MOST_GROWTH = 40_000
"""kB between the first files and the last."""


def ask(day: Day, question: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(f"file:{day.store}?mode=ro", uri=True, timeout=5)) as connection:
        return list(connection.execute(question).fetchall())


def resident(pid: int) -> int:
    """kB in memory now."""
    line = next(each for each in Path(f"/proc/{pid}/status").read_text().splitlines() if each.startswith("VmRSS"))
    return int(line.split()[1])


def fill_inbox(day: Day, today: date) -> None:
    begun = time.time() - 2 * MANY
    for number in range(MANY):
        content = export(today, REAL[number]) if number in REAL else b"%d\n" % number
        path = day.drop(f"{number * 7919 % MANY:04}-{number}.csv", content)  # names say nothing of the order
        os.utime(path, (begun + number, begun + number))


def in_hand(day: Day) -> int:
    return int(str(ask(day, "SELECT count(*) FROM recordings")[0][0])) if day.store.exists() else 0


def test_thousands_wait_and_nothing_starves(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = looking_often(a_day(tmp_path / "day", record.base))
    fill_inbox(day, today)
    with day.service() as process:
        wait_until(lambda: (day.place / "held").exists() and len(list((day.place / "held").iterdir())) > 200, process)
        early = resident(process.pid)
        wait_until(lambda: len(reports(record, people.ADA)) == len(reports(record, people.MIRO)) == 1, process)
        assert in_hand(day) < MANY, "those who came first did not wait for the last"
        wait_until(lambda: left(day) > 0, process)
        begun = time.monotonic()
        process.send_signal(signal.SIGTERM)
        assert process.wait(60) == 0
        assert in_hand(day) < MANY and time.monotonic() - begun < 60, "it stops between two files, not after all"
    with day.service() as process:
        wait_until(lambda: not list((day.place / "inbox").iterdir()), process, 600)
        assert resident(process.pid) < early + MOST_GROWTH
        wait_until(lambda: states(day) == {"delivered": len(REAL), "held": MANY - len(REAL)}, process)
        wait_until(lambda: left(day) == 0, process)
    order = [int(str(name).rpartition("-")[2].removesuffix(".csv")) for (name,) in ask(day, RECEIVED)]
    assert order == list(range(MANY)), "oldest first"
    assert day.command("audit", "verify").returncode == 0


RECEIVED = "SELECT name FROM recordings ORDER BY number"


def left(day: Day) -> int:
    """How many files are still to be taken, as `status` tells."""
    with Store.open(day.store) as store:
        found = store.health().get("inbox")
    return int(str(found.detail.get("left", 0))) if found else 0
