"""A worker dies with a job in its hand: no later start passes it by, and it is finished once.

https://github.com/openmemind/memind/issues/85: a job was claimed by taking it off the queue, and nobody looked.
"""

import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from datetime import date
from pathlib import Path
from subprocess import Popen

import pytest
from scenario import people
from scenario.record import RecordServer

from tests.flow.day import Day, a_day, wait_until
from tests.flow.pressure import states
from tests.flow.test_commands import export, reports
from tests.integration.proxy import Answer, Fault, Proxy, Seen

pytestmark = pytest.mark.service
CLAIMED = "SELECT count(*) FROM recordings WHERE state = 'received' AND lease_until IS NOT NULL"


def ask(day: Day, question: str) -> int:
    if not day.store.exists():
        return 0
    with closing(sqlite3.connect(f"file:{day.store}?mode=ro", uri=True, timeout=5)) as connection:
        try:
            return int(connection.execute(question).fetchone()[0])
        except sqlite3.OperationalError:
            return 0


def killed_when_claimed(day: Day, process: "Popen[bytes]") -> None:
    wait_until(lambda: ask(day, CLAIMED) > 0, process)
    process.kill()


def killed_when_parsed(day: Day, process: "Popen[bytes]") -> None:
    """It may read, but not write down what it found; when it has stopped working it waits for that."""
    wait_until(lambda: ask(day, CLAIMED) > 0, process)
    with closing(sqlite3.connect(day.store, timeout=30, isolation_level=None)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        assert ask(day, CLAIMED) == 1, "it was faster than this test"
        before, still = -1, 0
        while still < 4:
            time.sleep(0.25)
            now = ticks(process.pid)
            still = still + 1 if now - before <= 1 else 0
            before = now
        process.kill()
        process.wait(30)
        holder.execute("ROLLBACK")


def ticks(pid: int) -> int:
    """Processor time of a process so far."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return int(fields[11]) + int(fields[12])


@pytest.mark.parametrize("kill", [killed_when_claimed, killed_when_parsed])
def test_a_file_that_a_dead_worker_had_in_hand_is_worked_on_at_the_next_start(
    record: RecordServer, tmp_path: Path, today: date, kill: Callable[[Day, "Popen[bytes]"], None]
) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("a.csv", export(today))
    with day.service() as process:
        kill(day, process)
        process.wait(30)
    assert ask(day, CLAIMED) == 1 and reports(record, people.ADA) == []
    with day.service() as process:
        wait_until(lambda: states(day) == {"delivered": 1}, process)
        wait_until(lambda: not list((day.place / "inbox").iterdir()), process)
    assert len(reports(record, people.ADA)) == 1
    assert ask(day, "SELECT count(*) FROM audit WHERE kind = 'recovered'") >= 1
    assert ask(day, "SELECT count(*) FROM audit WHERE kind = 'ready'") == 1
    assert day.command("audit", "verify").returncode == 0


def test_a_delivery_that_a_dead_worker_was_about_to_post_is_posted_at_the_next_start(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    victim: list[Popen[bytes]] = []

    def die(seen: Seen, forward: Callable[[Seen], Answer]) -> None:
        victim[0].kill()  # the server never hears of it

    with Proxy(record.base) as proxy:
        day = a_day(tmp_path / "day", proxy.base)
        proxy.faults = [Fault(die, times=2)]
        day.drop("a.csv", export(today))
        for _ in range(2):
            with day.service() as process:
                victim[:] = [process]
                process.wait(120)
            assert reports(record, people.ADA) == []
            assert ask(day, "SELECT count(*) FROM deliveries WHERE state = 'sending'") == 1
        with day.service() as process:
            wait_until(lambda: states(day) == {"delivered": 1}, process)
    (report,) = reports(record, people.ADA)
    assert record.versions("DiagnosticReport", str(report["id"])) == 1
    assert ask(day, "SELECT count(*) FROM audit WHERE kind = 'delivered'") == 1
