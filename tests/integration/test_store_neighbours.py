"""Which recordings the store tells of when a new one is asked about."""

from datetime import timedelta

from gateway.model import Delivered
from gateway.store import Question, Store
from tests.unit.store.cases import NOW, made_ready, ready, sending, taken_in

DAY = timedelta(days=1)


def asked(own_id: str, person: str = "person-2", **changes: object) -> Question:
    values = {
        "serial": "EX-0002",
        "began": NOW - DAY,
        "ended": NOW,
        "marks": (1, 2, 3),
        "index": (1, 2, 3),
    }
    return Question(recording_id=own_id, person_key=person, **{**values, **changes})  # type: ignore[arg-type]


def filed(store: Store, content: bytes, question: Question) -> str:
    claim = taken_in(store, content)
    mine = Question(
        **{**{name: getattr(question, name) for name in question.__slots__}, "recording_id": claim.recording_id}
    )
    outcome = ready(
        question.person_key,
        serial=question.serial,
        began=question.began,
        ended=question.ended,
        question=mine,
        beside=frozenset(each.recording_id for each in store.neighbours(mine)),
    )
    assert store.finish_intake(claim, outcome, NOW, "service")
    return claim.recording_id


def ids(store: Store, **changes: object) -> list[str]:
    return [each.recording_id for each in store.neighbours(asked("new", **changes))]


def test_a_shared_mark_finds_a_recording_whoever_it_is_of(store):
    other = filed(store, b"one", asked("", "person-1", serial="EX-0001", began=NOW - 9 * DAY, ended=NOW - 8 * DAY))
    assert ids(store, index=(3, 4)) == [other]
    assert ids(store, index=(4, 5)) == [] and ids(store, index=()) == []


def test_the_monitor_finds_those_that_overlap_and_the_last_one_before(store):
    old = filed(store, b"1", asked("", "person-1", began=NOW - 9 * DAY, ended=NOW - 8 * DAY, index=(11,)))
    last = filed(store, b"2", asked("", "person-3", began=NOW - 5 * DAY, ended=NOW - 4 * DAY, index=(12,)))
    over = filed(store, b"3", asked("", "person-4", began=NOW - DAY / 2, ended=NOW + DAY, index=(13,)))
    assert ids(store) == [last, over]
    assert ids(store, serial="EX-0009") == [] and ids(store, serial=None) == []
    assert old not in ids(store)


def test_everything_of_the_person_is_told(store):
    own = filed(store, b"1", asked("", "person-2", serial=None, began=NOW - 99 * DAY, ended=NOW - 98 * DAY, index=()))
    assert ids(store) == [own]
    store.refuse(own, "A. Nurse", "wrong file", NOW)
    assert ids(store) == []


def test_two_files_with_the_same_values_worked_on_at_once_cannot_pass_each_other_unseen(store):
    first, second = taken_in(store, b"one"), taken_in(store, b"two")
    outcomes = [
        ready(person, key=person, serial=None, question=asked(claim.recording_id, person, serial=None))
        for person, claim in (("person-1", first), ("person-2", second))
    ]
    assert store.finish_intake(first, outcomes[0], NOW, "service")
    assert not store.finish_intake(second, outcomes[1], NOW, "service")
    (neighbour,) = store.neighbours(asked(second.recording_id, serial=None))
    assert (neighbour.recording_id, neighbour.person_key, neighbour.marks) == (
        first.recording_id,
        "person-1",
        (1, 2, 3),
    )


def test_what_was_withdrawn_speaks_against_nobody(store):
    claim = taken_in(store, b"one")
    question = asked(claim.recording_id, "person-1")
    assert store.finish_intake(claim, ready("person-1", question=question), NOW, "service")
    store.answer(sending(store), Delivered(patient="Patient/1", count=3), None, NOW, "service")
    standing = store.standing(claim.recording_id)
    store.withdraw(claim.recording_id, standing, {"record": b"x"}, "A. Nurse", "wrong person", NOW)
    assert ids(store) == [claim.recording_id], "as long as it stands in a record it does"
    store.answer(sending(store), Delivered(patient="Patient/1", count=3), None, NOW, "service")
    assert ids(store) == []


def test_an_older_recording_without_marks_is_still_found_by_person(store):
    made_ready(store, b"one", ready("person-2", serial=None))
    (neighbour,) = store.neighbours(asked("new"))
    assert neighbour.marks == ()
