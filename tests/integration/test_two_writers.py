"""Two live writers have one recording in hand at the same moment, as while a process is replaced by the next.

https://github.com/hapifhir/hapi-fhir-jpaserver-starter/issues/459: both ask, both find nothing, both create.
"""

import threading
from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from gateway.delivering import deliver_next
from gateway.model import Delivered, HoldReason, Rejected
from gateway.store import Store
from tests.integration.conftest import BATCHES, NO_TAG, WAYS, Story, Tell
from tests.integration.proxy import Answer, Fault, Seen
from tests.unit.store.cases import LEASE, a_store, made_ready, ready

pytestmark = pytest.mark.service
EVERY = WAYS | BATCHES | NO_TAG
MEET = 20.0


def meeting(writers: int) -> Callable[[Seen, Callable[[Seen], Answer]], Answer]:
    """Nobody's bundle goes on before every writer sent one: all have asked by then, and found nothing."""
    barrier = threading.Barrier(writers)

    def play(seen: Seen, ask: Callable[[Seen], Answer]) -> Answer:
        barrier.wait(MEET)
        return ask(seen)

    return play


def race(story: Story) -> list[object]:
    """Two writers with ledgers of their own, from the same empty beginning; what each of them says."""
    story.proxy.faults.append(Fault(meeting(2), times=2))
    answers: list[object] = []

    def write() -> None:
        server = story.new_server()
        answers.append(server.file(story.parcel, None, {}, lambda way, rows: None, uncertain=False))

    threads = [threading.Thread(target=write) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    assert len(answers) == 2
    return answers


def most_copies(story: Story) -> int:
    copies: dict[str, int] = {}
    for items in story.held().values():
        for item in items:
            own = str(item.get("identifier", [{"value": item["id"]}])[0]["value"])
            copies[own] = copies.get(own, 0) + 1
    return max(copies.values())


@pytest.mark.parametrize("poor", EVERY.values(), ids=EVERY)
def test_a_doubled_recording_is_never_called_delivered(tell: Tell, poor: frozenset[str]) -> None:
    """Where the server lets us choose the id, or looks by itself, there is one copy. Where it can only be asked, two
    writers may both create; then the count after writing finds them, and a person is called.
    """
    story = tell(poor)
    answers = race(story)
    if most_copies(story) == 1:
        assert any(isinstance(answer, Delivered) for answer in answers)
    else:
        assert poor not in (WAYS["put"], BATCHES["put, batch only"]), "one id is one copy"
    alarms = [answer for answer in answers if isinstance(answer, Rejected)]
    if most_copies(story) > 1:
        assert alarms and {answer.hold.reason for answer in alarms} == {HoldReason.RECORD_CONFLICT}
    # whoever asks afterwards, with nothing remembered, finds the same
    story.uncertain = True
    last = story.file()
    assert isinstance(last, Delivered) == (most_copies(story) == 1), last


def test_under_our_own_ids_two_writers_leave_one_copy_and_nothing_for_a_person(tell: Tell) -> None:
    story = tell(WAYS["put"])
    assert all(isinstance(answer, Delivered) for answer in race(story))
    assert most_copies(story) == 1


def test_of_two_workers_on_one_store_one_sends(place) -> None:  # type: ignore[no-untyped-def]
    """The lease decides, whoever asks at the same moment; the other is told that there is nothing to do."""
    with a_store(place) as store, Store.open(place.address) as other:
        for number in range(12):
            made_ready(store, f"{number}".encode(), ready(f"person-{number}", key=f"key-{number}"))
        start, claimed = threading.Barrier(4), []

        def claim(mine: Store, worker: str) -> None:
            start.wait(MEET)
            while found := mine.claim_delivery(worker, LEASE, datetime.now(UTC), ["record"]):
                claimed.append(found.delivery_id)

        workers = [(store, "old-1"), (store, "old-2"), (other, "new-1"), (other, "new-2")]
        threads = [threading.Thread(target=claim, args=each) for each in workers]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(60)
        assert len(claimed) == len(set(claimed)) == 12
        assert deliver_next(store, {}, "late", lambda: datetime.now(UTC)) is None
