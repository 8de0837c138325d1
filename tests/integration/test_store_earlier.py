"""Which earlier results the store tells of: delivered, ended before, not withdrawn, oldest first."""

from datetime import datetime, timedelta

import pytest
from sqlalchemy import insert, select, update

from gateway.errors import StoreError
from gateway.model import Act, Delivered, DeliveryState
from gateway.store import Store
from gateway.store.tables import deliveries, recordings
from tests.databases import Place
from tests.unit.store.cases import NOW, a_store, made_ready, ready, sending

DAY = timedelta(days=1)


def filed(store: Store, name: str, days_ago: int, person: str = "person-1", deliver: bool = True) -> str:
    ended = NOW - days_ago * DAY
    outcome = ready(person, key=f"key {name}", began=ended - DAY, ended=ended, facts=b'{"name":"%s"}' % name.encode())
    recording = made_ready(store, name.encode(), outcome)
    if deliver:
        store.answer(sending(store), Delivered(patient="1", count=3), None, NOW, "service")
    return recording


def earlier(store: Store, before: datetime = NOW, without: str = "", person: str = "person-1") -> list[bytes]:
    return [facts.removeprefix(b'{"name":"').removesuffix(b'"}') for facts in
            store.earlier_results(person, before, without)]  # fmt: skip


def withdraw(store: Store, recording: str, state: DeliveryState) -> None:
    """As a withdrawal leaves it, whatever command makes one."""
    with store._database.writing() as connection:
        connection.execute(
            insert(deliveries).values(
                id=f"withdraw {recording}", recording_id=recording, destination="record", act=Act.WITHDRAW,
                round=1,
                key=connection.execute(select(recordings.c.key).where(recordings.c.id == recording)).scalar_one(),
                person_key="person-1", state=state, created_at=NOW, changed_at=NOW, due=NOW, outcome_unknown=False,
                attempt=0, fence=0,
            )
        )  # fmt: skip


def test_only_delivered_results_of_the_same_person_oldest_first(place: Place) -> None:
    with a_store(place) as store:
        filed(store, "b", 30)
        filed(store, "a", 60)
        filed(store, "other", 40, person="person-2")
        filed(store, "waiting", 20, deliver=False)
        assert earlier(store) == [b"a", b"b"]
        assert earlier(store, person="person-3") == []


def test_only_what_ended_before_and_not_itself(place: Place) -> None:
    with a_store(place) as store:
        filed(store, "a", 60)
        own = filed(store, "b", 30)
        assert earlier(store, before=NOW - 30 * DAY) == [b"a", b"b"]
        assert earlier(store, before=NOW - 30 * DAY - timedelta(seconds=1)) == [b"a"]
        assert earlier(store, without=own) == [b"a"]


@pytest.mark.parametrize(
    "state", [DeliveryState.WAITING, DeliveryState.SENDING, DeliveryState.HELD, DeliveryState.DONE]
)
def test_what_is_withdrawn_or_on_its_way_out_is_left_out(place: Place, state: DeliveryState) -> None:
    with a_store(place) as store:
        recording = filed(store, "a", 60)
        withdraw(store, recording, state)
        assert earlier(store) == []
        assert list(store.results_since(NOW - 90 * DAY)) == []


def test_a_withdrawal_that_was_called_off_changes_nothing(place: Place) -> None:
    with a_store(place) as store:
        withdraw(store, filed(store, "a", 60), DeliveryState.CANCELLED)
        assert earlier(store) == [b"a"]


def test_at_most_the_latest_twenty(place: Place) -> None:
    with a_store(place) as store:
        for number in range(23):
            filed(store, f"{number:02}", 100 - number)
        found = earlier(store)
        assert (len(found), found[0], found[-1]) == (20, b"03", b"22")


def test_facts_of_one_recording(place: Place) -> None:
    with a_store(place) as store:
        recording = filed(store, "a", 60)
        assert store.facts(recording) == b'{"name":"a"}'
        with pytest.raises(StoreError, match="There is no recording"):
            store.facts("nowhere")


def test_results_since_a_day(place: Place) -> None:
    with a_store(place) as store:
        filed(store, "old", 60)
        filed(store, "new", 10)
        filed(store, "waiting", 20, deliver=False, person="person-2")
        with store._database.writing() as connection:
            connection.execute(update(recordings).where(recordings.c.name == "nobody").values(facts=None))
        found = list(store.results_since(NOW - 30 * DAY))
        assert [(one.facts, one.delivered, one.person_key) for one in found] == [
            (b'{"name":"waiting"}', False, "person-2"),
            (b'{"name":"new"}', True, "person-1"),
        ]
        assert len(list(store.results_since(NOW - 60 * DAY))) == 3
