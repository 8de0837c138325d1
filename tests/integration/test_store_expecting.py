"""Who has which monitor from when, as the store keeps and tells it."""

import json
from datetime import timedelta

import pytest

from gateway.store import NewExpected
from tests.unit.store.cases import NOW, a_store

DAY = timedelta(days=1)


@pytest.fixture
def store(place):
    with a_store(place) as opened:
        yield opened


def entry(person: str, days: float, ends: float | None = None, serial: str = "EX-1") -> NewExpected:
    return NewExpected(
        serial=serial,
        person_key=f"key-{person}",
        person=person,
        begins=NOW + days * DAY,
        ends=NOW + ends * DAY if ends is not None else None,
    )


def who(store, days: float, serial: str = "EX-1") -> str | None:
    found = store.out_to(serial, NOW + days * DAY)
    return found.person if found else None


def test_the_entry_that_began_last_says_who_has_it(store):
    store.expect([entry("one", 0), entry("two", 2), entry("three", 5, ends=6)], "A. Nurse", NOW)
    assert [who(store, day) for day in (-0.1, 0, 1.9, 2, 4.9, 5, 5.9)] == [
        None, "one", "one", "two", "two", "three", "three",
    ]  # fmt: skip
    assert who(store, 6) is None  # the entry that began last ended the ones before
    assert who(store, 3, serial=" ex-1") == "two"  # as people type it
    assert who(store, 1, serial="EX-2") is None


def test_the_same_entry_twice_is_one_and_one_can_be_taken_off(store):
    for _ in range(2):
        store.expect([entry("one", 0)], "A. Nurse", NOW)
    (only,) = store.expected()
    assert (only.person, only.by) == ("one", "A. Nurse")
    assert store.expect_no_more(only.number, "B. Nurse", NOW)
    assert not store.expect_no_more(only.number, "B. Nurse", NOW)
    assert who(store, 1) is None
    told = [each for each in store.audit_entries() if getattr(each, "kind", "") == "settings"]
    assert [each.actor for each in told] == ["A. Nurse", "B. Nurse"]
    assert "EX-1" not in json.dumps([str(each) for each in told])
