"""Stories of delivery on both record servers, each once per way of writing, through the strict proxy.

Not collected by ./tests/run itself, because the second server needs Node: tests/conformance/run calls it.
"""

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from gateway import fhir
from gateway.model import Act, Answer, Delivered, TryLater
from gateway.pipeline import Sent, deliver_next
from gateway.store import NewDelivery
from tests.conformance.server.recordings import LEFT_TO_THE_LEASE, Told, assert_reads_back_equal, begin, versions
from tests.integration.conftest import BATCHES, WAYS, Tell
from tests.unit.store.cases import a_store, made_ready, ready

CLIENTS = 4
STORIES = WAYS | {name: BATCHES[name] for name in ("put, batch only", "conditional, batch only")}
SAFE_ALONE = tuple(name for name in STORIES if name not in LEFT_TO_THE_LEASE)
"""Ways in which the server itself keeps a second copy out; else the lease of the store does."""


@pytest.fixture(params=STORIES)
def told(tell: Tell, record: object, request: pytest.FixtureRequest) -> Told:
    return begin(tell, record, request.param, STORIES[request.param])


@pytest.fixture(params=SAFE_ALONE)
def safe(tell: Tell, record: object, request: pytest.FixtureRequest) -> Told:
    return begin(tell, record, request.param, STORIES[request.param])


def test_posted_and_read_back_equal(told: Told) -> None:
    story = told.story
    answer = story.file()
    assert isinstance(answer, Delivered), answer
    assert answer.count == len(story.parcel.resources)
    assert story.way is told.way
    assert_reads_back_equal(story)
    assert set(versions(story).values()) == {1}


def test_repeated_without_any_memory_nothing_is_written(told: Told) -> None:
    story = told.story
    story.file()
    story.ledger.clear()  # as a store that was restored from before
    story.uncertain = True
    story.server = story.new_server()
    answer = story.file()
    assert isinstance(answer, Delivered), answer
    assert answer.unchanged == len(story.parcel.resources)
    assert set(versions(story).values()) == {1}
    assert_reads_back_equal(story)


def test_four_clients_that_share_a_store_file_it_once(told: Told, tmp_path: Path) -> None:
    """As nodes do: all ask the store for work at once, and the lease gives it to one of them."""
    story = told.story
    delivery = NewDelivery(destination="record", act=Act.FILE, content=fhir.pack(story.parcel))
    with a_store(tmp_path) as store:
        made_ready(store, outcome=ready(deliveries=(delivery,)))
        servers = [story.new_server() for _ in range(CLIENTS)]

        def client(number: int) -> Iterator[Sent]:
            while sent := deliver_next(store, {"record": servers[number]}, f"node-{number}", now):
                yield sent

        sent = [item for items in at_once(lambda number: list(client(number))) for item in items]
    assert [type(item.answer) for item in sent] == [Delivered]
    assert_reads_back_equal(story)
    assert set(versions(story).values()) == {1}


def test_four_clients_that_share_nothing_leave_one_copy(safe: Told) -> None:
    """As after a store was copied, which nobody should do."""
    story = safe.story
    servers = [story.new_server() for _ in range(CLIENTS)]

    def client(number: int) -> Answer:
        ledger: dict[str, Any] = {}
        way = None

        def note(chosen: Any, rows: Any) -> None:
            nonlocal way
            way = chosen
            ledger.update({row.resource_id: row for row in rows})

        for _ in range(CLIENTS):  # whoever met another one in the act asks again
            answer = servers[number].file(story.parcel, way, dict(ledger), note, uncertain=bool(ledger))
            if not isinstance(answer, TryLater):
                break
        return answer

    answers = at_once(client)
    assert [type(answer) for answer in answers] == [Delivered] * CLIENTS, answers
    assert_reads_back_equal(story)


def at_once(client: Any) -> list[Any]:
    """What each of the clients says, all let go at the same moment."""
    gate = threading.Barrier(CLIENTS)

    def let_go(number: int) -> Any:
        gate.wait(60)
        return client(number)

    with ThreadPoolExecutor(CLIENTS) as pool:
        return list(pool.map(let_go, range(CLIENTS)))


def now() -> datetime:
    return datetime.now(UTC)
