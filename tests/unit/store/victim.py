"""A process that works on a store and dies by SIGKILL: the tests start it, count on its death and look at the rest.

python -m tests.unit.store.victim steps PLACE STEP     dies after each statement of one transaction in turn
python -m tests.unit.store.victim work PLACE COUNT     takes in and delivers COUNT files, again and again
python -m tests.unit.store.victim write PLACE NAME COUNT   COUNT short writes
python -m tests.unit.store.victim hold PLACE SECONDS SIGN   holds a writing transaction open, and makes the file SIGN
"""

import json
import os
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import event

from gateway.model import Delivered, Event, EventKind, Way
from gateway.store import Store
from tests.databases import Place
from tests.unit.store.cases import NOW, OVER, a_resource, held, ready, rejected

BIG = os.urandom(3_000_000)
"""More than SQLite's page cache: pages reach the disk before the transaction ends."""
BOTH = ("record", "research")


def receive(store: Store) -> Callable[[], object]:
    return lambda: store.receive(BIG, "big.csv", NOW, "service")


def claim_received(store: Store) -> Callable[[], object]:
    store.receive(b"export", "a.csv", NOW, "service")
    return lambda: store.claim_received("worker", OVER, NOW)


def finish_ready(store: Store) -> Callable[[], object]:
    claim = claim_received(store)()
    return lambda: store.finish_intake(claim, ready("person-1", *BOTH), NOW, "service")


def finish_held(store: Store) -> Callable[[], object]:
    claim = claim_received(store)()
    return lambda: store.finish_intake(claim, held(), NOW, "service")


def release(store: Store) -> Callable[[], object]:
    if not store.held():
        finish_held(store)()
    return lambda: store.release(store.held()[0].id, "A. Nurse", "because", NOW)


def refuse(store: Store) -> Callable[[], object]:
    recording = store.receive(b"export", "a.csv", NOW, "service").recording_id
    if store.next_due(NOW) is not None and not store.story(recording).deliveries:
        finish_ready(store)()
    return lambda: store.refuse(recording, "A. Nurse", "because", NOW)


def claim_delivery(store: Store) -> Callable[[], object]:
    recording = store.receive(b"export", "a.csv", NOW, "service").recording_id
    if not store.story(recording).deliveries:
        finish_ready(store)()
    return lambda: store.claim_delivery("worker", OVER, NOW, BOTH)


def note_filed(store: Store) -> Callable[[], object]:
    claim = claim_delivery(store)()
    return lambda: store.note_filed(claim, Way.PUT, [a_resource(1), a_resource(2)], NOW, "worker")


def answer_delivered(store: Store) -> Callable[[], object]:
    claim = claim_delivery(store)()
    return lambda: store.answer(claim, Delivered(patient="7", count=3), None, NOW, "worker")


def answer_rejected(store: Store) -> Callable[[], object]:
    claim = claim_delivery(store)()
    return lambda: store.answer(claim, rejected(), None, NOW, "worker")


STEPS = {
    step.__name__: step
    for step in (
        receive, claim_received, finish_ready, finish_held, release, refuse, claim_delivery, note_filed,
        answer_delivered, answer_rejected,
    )
}  # fmt: skip


def die_after(store: Store, statements: int) -> None:
    """Arm this process: SIGKILL to itself right after that many statements, the commit counting as one."""
    seen = 0

    def count(*_: object) -> None:
        nonlocal seen
        seen += 1
        if seen == statements:
            os.kill(os.getpid(), signal.SIGKILL)

    event.listen(store._database._engine, "after_cursor_execute", count)
    event.listen(store._database._engine, "commit", count)


def steps(place: str, name: str) -> None:
    """Print a JSON line per death, and one for the run that lived."""
    for statements in range(1, 100):
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            with Store.open(place) as store:
                act = STEPS[name](store)
                os.write(writing, Place(place).digest().encode())
                die_after(store, statements)
                act()
            os._exit(0)
        os.close(writing)
        _, status = os.waitpid(child, 0)
        before = os.read(reading, 100).decode()
        os.close(reading)
        told = {"killed": os.WIFSIGNALED(status), "status": status, "before": before, "after": Place(place).digest()}
        print(json.dumps(told), flush=True)
        if not told["killed"]:
            return


def work(place: str, count: str) -> None:
    with Store.open(place) as store:
        print("open", flush=True)
        for number in range(int(count)):
            store.receive(f"export {number}".encode(), f"{number}.csv", NOW, "service")
        while (claim := store.claim_received("worker", OVER, NOW)) is not None:
            person = f"person-{int(claim.content.split()[1]) % 3}"
            store.finish_intake(claim, ready(person, *BOTH), NOW, "service")
        while (sent := store.claim_delivery("worker", OVER, NOW, BOTH)) is not None:
            number = int.from_bytes(sent.delivery_id.encode()[:6])
            store.note_filed(sent, Way.PUT, [a_resource(number)], NOW, "worker")
            store.answer(sent, Delivered(patient="7", count=1), None, NOW, "worker")


def write(place: str, name: str, count: str) -> None:
    with Store.open(place) as store:
        for number in range(int(count)):
            if number % 2:
                detail: dict[str, object] = {"number": number}
                store.record(Event(kind=EventKind.SETTINGS, at=NOW, actor=name, detail=detail))
            else:
                store.receive(f"{name} {number}".encode(), "x.csv", NOW, name)


def hold(place: str, seconds: str, sign: str) -> None:
    with Store.open(place) as store, store._database.writing() as connection:
        connection.exec_driver_sql("UPDATE health SET at = at")
        Path(sign).touch()
        time.sleep(float(seconds))


if __name__ == "__main__":
    {"steps": steps, "work": work, "write": write, "hold": hold}[sys.argv[1]](*sys.argv[2:])
