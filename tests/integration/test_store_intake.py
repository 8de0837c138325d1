"""T1 and T2 on a real database: nothing lost, nothing twice, fences hold."""

from contextlib import contextmanager
from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from gateway.errors import LeaseLost, StoreError
from gateway.model import Delivered, EventKind, HoldReason, RecordingState, Shown
from gateway.pipeline import MOST_ATTEMPTS, process_next
from gateway.service.previewing import preview_tools
from gateway.store import NotFound
from tests.unit.store.cases import (
    LEASE,
    NOW,
    OVER,
    held,
    kinds,
    made_ready,
    ready,
    rejected,
    sending,
    taken_in,
)

EXPORTS = Path(__file__).parents[2] / "examples" / "exports"


def test_a_file_is_received_once_and_the_same_bytes_again_are_only_noted(store):
    first = store.receive(b"export", "a.csv", NOW, "service")
    second = store.receive(b"export", "renamed.csv", NOW, "service")
    assert (first.again, second.again) == (False, True)
    assert first.recording_id == second.recording_id
    assert store.original(first.recording_id) == ("a.csv", b"export")
    assert kinds(store) == ["received", "seen-again"]
    assert store.counts().recordings == {RecordingState.RECEIVED: 1}


def test_the_same_bytes_again_tell_what_became_of_them(store):
    made_ready(store, b"export")
    assert store.receive(b"export", "a.csv", NOW, "service").state is RecordingState.READY


def test_names_of_files_stay_out_of_the_audit_trail(store):
    store.receive(b"export", "ZZTESTNAME-9990000018.csv", NOW, "service")
    trail = b"".join(entry.detail or b"" for entry in store.audit_entries())
    assert b"ZZTESTNAME" not in trail and b"9990000018" not in trail


def test_a_name_that_is_no_text_is_taken(store):
    receipt = store.receive(b"export", b"caf\xe9.csv".decode("utf-8", "surrogateescape"), NOW, "service")
    assert store.original(receipt.recording_id)[0].startswith("caf")


def test_the_oldest_is_claimed_first_and_only_once(store):
    ids = [store.receive(bytes([n]), f"{n}.csv", NOW - timedelta(hours=n), "service").recording_id for n in range(3)]
    claimed = [store.claim_received("worker", LEASE, NOW) for _ in range(4)]
    assert [claim and claim.recording_id for claim in claimed] == [*ids, None]
    assert [claim.content for claim in claimed if claim] == [b"\0", b"\1", b"\2"]


def test_a_worker_that_died_strands_nothing_and_cannot_come_back(store):
    receipt = store.receive(b"export", "a.csv", NOW, "service")
    dead = store.claim_received("dead", OVER, NOW)
    alive = store.claim_received("alive", LEASE, NOW)
    assert (dead.recording_id, dead.attempt, alive.attempt) == (receipt.recording_id, 1, 2)
    with pytest.raises(LeaseLost):
        store.finish_intake(dead, held(), NOW, "dead")
    assert store.finish_intake(alive, ready(), NOW, "alive")
    with pytest.raises(LeaseLost):
        store.finish_intake(alive, ready(), NOW, "alive")
    assert kinds(store) == ["received", "recovered", "read", "ready"]


def test_a_worker_whose_lease_ran_out_unnoticed_may_still_finish(store):
    store.receive(b"export", "a.csv", NOW, "service")
    slow = store.claim_received("slow", OVER, NOW)
    assert store.finish_intake(slow, ready(), NOW, "slow")
    assert store.claim_received("other", LEASE, NOW) is None


def test_an_attempt_given_back_does_not_count_and_can_be_claimed_at_once(store):
    first = taken_in(store)
    store.give_back(first, NOW)
    second = store.claim_received("worker", LEASE, NOW)
    assert (second.attempt, second.recording_id) == (1, first.recording_id) and second.fence > first.fence
    assert kinds(store) == ["received"], "nobody died, so nothing was recovered"


@pytest.mark.parametrize("meanwhile", ["another worker", "finished", "refused"])
def test_only_the_holder_of_a_claim_gives_it_back(store, meanwhile):
    store.receive(b"export", "a.csv", NOW, "service")
    claim = store.claim_received("slow", OVER, NOW)
    if meanwhile == "another worker":
        assert store.claim_received("other", LEASE, NOW).attempt == 2
    elif meanwhile == "finished":
        store.finish_intake(claim, ready(), NOW, "slow")
    else:
        store.refuse(claim.recording_id, "A. Nurse", "not ours", NOW)
    before = store.story(claim.recording_id)
    store.give_back(claim, NOW + LEASE)
    assert store.story(claim.recording_id) == before
    assert store.claim_received("third", LEASE, NOW) is None


@contextmanager
def full_disk(store, place):
    """Until the block ends a result finds no room: SQLite may add no page, PostgreSQL reports 53100."""
    if place.on_server:
        place.execute(
            "CREATE FUNCTION no_room() RETURNS trigger LANGUAGE plpgsql AS "
            "'BEGIN RAISE EXCEPTION ''no room'' USING ERRCODE = ''53100''; END';"
            "CREATE TRIGGER full_disk BEFORE UPDATE OF facts ON recordings EXECUTE FUNCTION no_room()"
        )
        yield
        place.execute("DROP TRIGGER full_disk ON recordings")
        return
    with store._database.reading() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")  # the pool hands this one out again
    yield
    with store._database.reading() as connection:
        connection.exec_driver_sql("PRAGMA max_page_count = 1000000")


def test_faults_of_the_store_use_up_no_attempt_at_the_file(store, place):
    tools = preview_tools(None, {}, timezone=None, guideline=None)
    store.receive((EXPORTS / "plain-layout.csv").read_bytes(), "plain.csv", NOW, "service")
    with full_disk(store, place):
        for _ in range(MOST_ATTEMPTS + 2):
            with pytest.raises(StoreError, match="is full"):
                process_next(store, tools, "worker", NOW)
    hold = process_next(store, tools, "worker", NOW).hold
    assert hold is None or hold.reason is not HoldReason.PROCESSING_FAULT


def test_a_fault_that_may_lie_in_the_file_uses_up_the_attempt(store):
    """Or it would be tried for ever, in front of all other files."""
    tools = preview_tools(None, {}, timezone=None, guideline=None)
    store.receive((EXPORTS / "plain-layout.csv").read_bytes(), "plain.csv", NOW, "service")
    with store._database.writing() as connection:
        connection.exec_driver_sql("ALTER TABLE audit RENAME TO away")
    with pytest.raises(StoreError, match=r"no such table|42P01"):
        process_next(store, tools, "worker", NOW)
    with store._database.writing() as connection:
        connection.exec_driver_sql("ALTER TABLE away RENAME TO audit")
    assert store.claim_received("other", LEASE, NOW) is None, "the lease still runs"
    assert store.take_over("next", NOW) == 1
    assert store.claim_received("next", LEASE, NOW).attempt == 2


def test_ready_puts_the_content_into_the_outbox_of_every_destination(store):
    recording = made_ready(store, outcome=ready("person-1", "record", "research"))
    story = store.story(recording)
    assert [delivery.destination for delivery in story.deliveries] == ["record", "research"]
    assert story.shown is Shown.DELIVERING
    assert [event.kind for event in story.events] == [EventKind.RECEIVED, EventKind.READ, EventKind.READY]


def test_held_keeps_reason_facts_and_what_to_do(store):
    claim = taken_in(store)
    store.finish_intake(claim, held(), NOW, "service")
    (item,) = store.held()
    assert (item.id, item.reason, item.rule) == (claim.recording_id, HoldReason.TIME_IN_FUTURE, "time-in-future")
    assert item.sentence.endswith("(row 3)") and item.action and item.facts == b"{}" and item.destination is None
    assert store.claim_received("worker", LEASE, NOW) is None


def test_known_recordings_of_a_person_are_told_without_the_held_and_refused(store):
    first = made_ready(store, b"1", ready("person-1", key="key-1"))
    refused = made_ready(store, b"2", ready("person-1", key="key-2"))
    made_ready(store, b"3", ready("person-2", key="key-3"))
    store.finish_intake(taken_in(store, b"4"), held(), NOW, "service")
    store.refuse(refused, "A. Nurse", "doubled", NOW)
    (known,) = store.same_person("person-1")
    assert (known.recording_id, known.key, known.serial, known.issue) == (first, "key-1", "EX-0001", 1)
    assert known.instants == (1772528400, 1772530200)
    assert (known.began, known.ended) == (NOW - timedelta(days=1), NOW)


def test_two_files_of_one_person_worked_on_at_once_cannot_pass_each_other_unseen(store):
    one, other = taken_in(store, b"1"), taken_in(store, b"2")
    seen = frozenset(known.recording_id for known in store.same_person("person-1"))
    assert store.finish_intake(one, ready(known=seen), NOW, "service")
    assert not store.finish_intake(other, ready(known=seen), NOW, "service"), "it must look again"
    seen = frozenset(known.recording_id for known in store.same_person("person-1"))
    assert seen == {one.recording_id}
    assert store.finish_intake(other, ready(known=seen), NOW, "service")


def test_released_recordings_come_back_with_their_waiver(store):
    claim = taken_in(store)
    store.finish_intake(claim, held(rule="time-in-future"), NOW, "service")
    decided = store.release(claim.recording_id, "A. Nurse", "clock was wrong", NOW)
    assert decided.waived == "time-in-future"
    again = store.claim_received("worker", LEASE, NOW)
    (waiver,) = again.waivers
    assert (waiver.rule, waiver.by, waiver.why, waiver.at) == ("time-in-future", "A. Nurse", "clock was wrong", NOW)
    assert again.attempt == 1


def test_a_hold_without_a_rule_is_only_tried_again(store):
    claim = taken_in(store)
    store.finish_intake(claim, held(HoldReason.NO_MAP, rule=""), NOW, "service")
    assert store.release(claim.recording_id, "A. Nurse", "map was added", NOW).waived == ""
    assert store.claim_received("worker", LEASE, NOW).waivers == ()


def test_a_person_who_refuses_overrules_the_worker(store):
    claim = taken_in(store)
    store.refuse(claim.recording_id, "A. Nurse", "not ours", NOW)
    with pytest.raises(LeaseLost):
        store.finish_intake(claim, ready(), NOW, "service")
    assert store.story(claim.recording_id).shown is Shown.REFUSED


@pytest.mark.parametrize("outcome", [held(), ready("person-1", "record", "research")])
def test_a_refusal_can_be_taken_back_and_everything_runs_again(store, outcome):
    claim = taken_in(store)
    store.finish_intake(claim, outcome, NOW, "service")
    store.refuse(claim.recording_id, "A. Nurse", "by mistake", NOW)
    assert not store.held() and store.find_held(claim.recording_id[:12]) == NotFound(claim.recording_id[:12])
    assert store.find_held(claim.recording_id[:12], refused=True) == claim.recording_id
    store.release(claim.recording_id, "A. Nurse", "mistake", NOW)
    assert store.story(claim.recording_id).shown is Shown.RECEIVED
    again = store.claim_received("worker", LEASE, NOW)
    assert (again.recording_id, again.content, again.attempt, again.waivers) == (claim.recording_id, b"export", 1, ())


def test_a_recording_taken_back_is_compared_with_what_was_filed_meanwhile(store):
    mistaken = made_ready(store, b"1")
    store.refuse(mistaken, "A. Nurse", "by mistake", NOW)
    corrected = made_ready(store, b"2", ready(known=frozenset()))
    store.answer(sending(store), Delivered(patient="7", count=1), None, NOW, "worker")
    store.release(mistaken, "A. Nurse", "mistake", NOW)
    assert store.claim_delivery("worker", LEASE, NOW, ["record"]) is None, "nothing of it is sent unseen"
    again = store.claim_received("worker", LEASE, NOW)
    assert [known.recording_id for known in store.same_person("person-1")] == [corrected]
    assert not store.finish_intake(again, ready(known=frozenset()), NOW, "service"), "it must look again"
    store.finish_intake(again, held(HoldReason.RECORDING_CHANGED, rule="recording-changed"), NOW, "service")
    store.release(mistaken, "A. Nurse", "both are right", NOW)
    assert store.story(mistaken).state is RecordingState.RECEIVED, "a held one is not sent as it was either"


def test_a_recording_taken_back_is_sent_as_it_is_understood_now(store):
    recording = made_ready(store)
    first = sending(store)
    store.answer(first, rejected(), None, NOW, "worker")
    store.refuse(first.delivery_id, "A. Nurse", "by mistake", NOW)
    assert store.find_held(first.delivery_id[:12], refused=True) == recording, "the number that a nurse had seen"
    store.release(recording, "A. Nurse", "mistake", NOW)
    again = store.claim_received("worker", LEASE, NOW)
    assert store.finish_intake(again, ready("person-2"), NOW, "service")
    second = sending(store)
    assert (second.content, second.attempt, second.outcome_unknown) == (b"person-2 record", 1, False)
    with pytest.raises(LeaseLost):
        store.answer(first, Delivered(patient="7", count=1), None, NOW, "worker")
    assert [decision.delivery_id for decision in store.story(recording).decisions] == [second.delivery_id, None]
    (delivery,) = store.story(recording).deliveries
    assert (delivery.hold, delivery.answer) == (None, "")


def test_what_cannot_be_decided_is_said(store):
    recording = made_ready(store)
    assert "not held" in store.release(recording, "A. Nurse", "x", NOW).why
    assert "no recording or delivery" in store.release("nothing", "A. Nurse", "x", NOW).why
    assert "no recording or delivery" in store.refuse("nothing", "A. Nurse", "x", NOW).why
    store.refuse(recording, "A. Nurse", "x", NOW)
    assert "refused before" in store.refuse(recording, "A. Nurse", "x", NOW).why


def test_decisions_are_audited_by_name_without_the_words_of_the_reason(store):
    claim = taken_in(store)
    store.finish_intake(claim, held(), NOW, "service")
    store.release(claim.recording_id, "A. Nurse", "ZZTESTNAME says so", NOW)
    last = list(store.audit_entries())[-1]
    assert (last.kind, last.actor) == ("released", "A. Nurse")
    assert b"ZZTESTNAME" not in last.detail
    assert store.story(claim.recording_id).decisions[0].why == "ZZTESTNAME says so"


def test_recordings_are_found_by_the_beginning_of_their_id(store):
    ids = sorted(store.receive(bytes([n]), "x", NOW, "service").recording_id for n in range(40))
    assert store.find(ids[0]) == ids[0]
    assert store.find(ids[0][:13].upper()) == ids[0]
    assert store.find("zz") == NotFound("zz")
    assert store.find("%") == NotFound("%") and store.find("") != ids[0]
    shared = next(a[:1] for a, b in pairwise(ids) if a[0] == b[0])
    found = store.find(shared)
    assert set(found.ids) <= {i for i in ids if i.startswith(shared)} and len(found.ids) >= 2
