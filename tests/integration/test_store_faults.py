"""Real processes die by SIGKILL in the middle of real transactions; two processes fight for one store."""

import json
import random
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from gateway.audit import verify
from gateway.errors import StoreError
from gateway.model import DeliveryState, Event, EventKind, Shown
from gateway.store import Store
from tests.unit.store.cases import KEY, LEASE, NOW, a_store, kinds
from tests.unit.store.victim import STEPS

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.service


def start(*arguments: object) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "tests.unit.store.victim", *map(str, arguments)]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def finish(process: subprocess.Popen[str]) -> str:
    out, error = process.communicate(timeout=120)
    assert process.returncode == 0, error
    return out


def whole(store: Store) -> bool:
    return verify(store.audit_entries(), None, KEY.public_key()).whole


@pytest.mark.parametrize("step", STEPS)
def test_killed_after_any_statement_a_transaction_has_not_happened(place, step):
    Store.open(place.address).close()
    told = [json.loads(line) for line in finish(start("steps", place.address, step)).splitlines()]
    *killed, lived = told
    assert len(killed) >= 4, "begin, statements, commit"
    assert all(death["killed"] and death["before"] == death["after"] for death in killed)
    assert lived["status"] == 0 and lived["before"] != lived["after"]
    with Store.open(place.address) as store:
        assert whole(store)


def test_killed_again_and_again_at_any_moment_nothing_is_lost_or_twice(place):
    count = 40
    chance = random.Random(20260305)
    for _ in range(4):
        victim = start("work", place.address, count)
        assert victim.stdout is not None and victim.stdout.readline() == "open\n"
        time.sleep(chance.uniform(0.01, 0.25))
        victim.kill()
        victim.communicate(timeout=60)
        assert victim.returncode == -signal.SIGKILL, "it must not have finished before"
    finish(start("work", place.address, count))
    with Store.open(place.address) as store:
        assert store.overview(NOW).recordings == {Shown.DELIVERED: count}
        assert store.counts().deliveries == {DeliveryState.DONE: 2 * count}
        told = kinds(store)
        assert (told.count("received"), told.count("ready"), told.count("delivered")) == (count, count, 2 * count)
        assert whole(store)


def test_two_writers_a_long_holder_and_a_reader_lose_no_line(place, tmp_path):
    """Writers meet a lock held far longer than SQLite waits by itself; a reader exports the log meanwhile."""
    Store.open(place.address).close()
    holder = start("hold", place.address, 1.5, tmp_path / "holding")
    while not (tmp_path / "holding").exists():
        assert holder.poll() is None
        time.sleep(0.01)
    writers = [start("write", place.address, name, 200) for name in ("one", "two")]
    with Store.open(place.address) as store:
        exports = 0
        while any(writer.poll() is None for writer in writers):
            assert whole(store)
            exports += 1
            time.sleep(0.05)
        for process in (holder, *writers):
            finish(process)
        told = kinds(store)
        assert (told.count("received"), told.count("settings")) == (200, 200)
        assert whole(store) and exports > 1
        assert sum(store.counts().recordings.values()) == 200


def test_one_store_serves_several_threads(place):
    with a_store(place) as store:
        faults: list[BaseException] = []

        def write(name: str) -> None:
            try:
                for number in range(25):
                    store.receive(f"{name} {number}".encode(), "x", NOW, name)
                    store.record(Event(kind=EventKind.SETTINGS, at=NOW, actor=name, detail={}))
                    store.overview(NOW)
                    store.claim_received(name, LEASE, NOW)
            except BaseException as fault:
                faults.append(fault)

        threads = [threading.Thread(target=write, args=(f"thread-{number}",)) for number in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(timeout=60)
        assert not faults
        assert store.claim_received("last", LEASE, NOW) is None, "each was claimed by exactly one thread"
        assert (kinds(store).count("received"), kinds(store).count("settings")) == (100, 100)


def test_a_fault_of_the_database_is_told_in_plain_words_and_without_content(tmp_path):
    place = tmp_path / "gateway.db"
    with Store.open(place) as store:
        with store._database.writing() as connection:
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        with store._database.reading() as connection:
            connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")  # the pool hands this one out again
        with pytest.raises(StoreError, match="the disk is full") as told:
            store.receive(b"ZZTESTNAME" * 100_000, "ZZTESTNAME.csv", NOW, "service")
        shown: BaseException | None = told.value
        while shown is not None:
            assert "ZZTESTNAME" not in str(shown)
            shown = shown.__cause__ or shown.__context__
        assert kinds(store) == []
