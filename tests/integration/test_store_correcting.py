"""Another file of a recording that is filed: which counts, what overtakes what; on both databases."""

from dataclasses import replace
from datetime import timedelta

from gateway.model import Act, Delivered, DeliveryState, EventKind, RecordingState, Shown, TryLater, Way
from gateway.store import Correcting, Decided, Decider, NewDelivery, NotPossible, ReadyIntake, Renewed, Store
from tests.unit.store.cases import LEASE, NOW, a_resource, kinds, made_ready, ready, rejected, sending, taken_in

LATER = NOW + timedelta(hours=1)
DONE = Delivered(patient="Patient/1", count=3)
WHO = Decider(by="A. Nurse", why="the guideline of now")


def deliver(store: Store, now=NOW) -> None:
    claim = sending(store, "record", now=now)
    store.note_filed(claim, Way.PUT, [a_resource()], now, "worker")
    store.answer(claim, DONE, None, now, "worker")


def correction(store: Store, first: str, *, counts: bool = True, content: bytes = b"corrected") -> ReadyIntake:
    standing = store.standing(first)
    assert standing is not None
    new = (NewDelivery(destination="record", act=Act.CORRECT, content=content, way=Way.PUT),) if counts else ()
    corrects = Correcting(recording_id=first, standing=standing, counts=counts)
    return replace(ready(), deliveries=new, corrects=corrects)


def corrected(store: Store, first: str, export: bytes = b"second", **more: object) -> str:
    claim = taken_in(store, export)
    assert store.finish_intake(claim, correction(store, first, **more), LATER, "service")
    return claim.recording_id


def states(store: Store, number: str) -> dict[Act, DeliveryState]:
    return {each.act: each.state for each in store.story(number).deliveries}


def test_the_new_file_counts_and_its_correction_is_sent_in_the_way_of_the_first(store):
    first = made_ready(store)
    deliver(store)
    second = corrected(store, first)
    assert (store.counting(first), store.counting(second)) == (second, second)
    claim = sending(store, "record", now=LATER)
    assert (claim.act, claim.content, claim.way, claim.recording_id) == (Act.CORRECT, b"corrected", Way.PUT, second)
    store.answer(claim, DONE, None, LATER, "worker")
    assert store.overview(LATER).recordings == {Shown.DELIVERED: 1, Shown.SUPERSEDED: 1}
    assert [each.recording_id for each in store.same_person("person-1")] == [second]
    assert [each.recording_id for each in store.results_since(NOW - timedelta(days=9))] == [second]
    assert store.story(first).superseded_by == second
    assert [each.act for each in store.done("record", second)] == [Act.FILE, Act.CORRECT]
    assert store.done_since("record", NOW) == (second,)


def test_a_file_that_adds_nothing_counts_for_nothing(store):
    first = made_ready(store)
    deliver(store)
    second = corrected(store, first, counts=False)
    assert (store.counting(first), store.counting(second)) == (first, first)
    assert store.overview(LATER).recordings == {Shown.DELIVERED: 1, Shown.SUPERSEDED: 1}
    assert store.claim_delivery("worker", LEASE, LATER, ["record"]) is None


def test_what_stands_may_not_have_moved_on_meanwhile(store):
    first = made_ready(store)
    claim = taken_in(store, b"second")
    early = correction(store, first)
    deliver(store)
    assert not store.finish_intake(claim, early, LATER, "service"), "the first was sent meanwhile"
    assert store.finish_intake(claim, correction(store, first), LATER, "service")


def test_a_correction_overtakes_a_filing_that_is_held_or_waits_and_never_the_other_way_round(store):
    first = made_ready(store)
    store.answer(sending(store), rejected(), None, NOW, "worker")
    second = corrected(store, first)
    claim = sending(store, "record", now=LATER)
    assert claim.act is Act.CORRECT
    assert states(store, first)[Act.FILE] is DeliveryState.CANCELLED
    assert EventKind.OVERTAKEN in kinds(store)
    held = store.story(first).deliveries[0].delivery_id
    assert isinstance(store.release(held, "A. Nurse", "why", LATER), NotPossible)
    store.answer(claim, DONE, None, LATER, "worker")
    assert states(store, second)[Act.CORRECT] is DeliveryState.DONE


def test_a_filing_in_hand_comes_first(store):
    first = made_ready(store)
    claim = sending(store)
    corrected(store, first)
    assert store.claim_delivery("other", LEASE, LATER, ["record"]) is None, "the person's earlier work is in hand"
    store.answer(claim, DONE, None, LATER, "worker")
    assert sending(store, "record", now=LATER).act is Act.CORRECT


def test_the_last_of_several_corrections_counts(store):
    first = made_ready(store)
    deliver(store)
    second = corrected(store, first)
    third = corrected(store, second, b"third", content=b"corrected again")
    claim = sending(store, "record", now=LATER)
    assert (claim.recording_id, claim.content) == (third, b"corrected again")
    assert (store.counting(first), store.counting(third)) == (third, third)


def test_a_refused_correction_leaves_the_record_and_the_first_file_counts_again(store):
    first = made_ready(store)
    deliver(store)
    second = corrected(store, first)
    assert isinstance(store.refuse(second, "A. Nurse", "why", LATER), NotPossible)
    store.answer(sending(store, "record", now=LATER), rejected(), None, LATER, "worker")
    (delivery,) = store.story(second).deliveries
    assert store.refuse(delivery.delivery_id, "A. Nurse", "the first is right", LATER) == Decided(second)
    assert store.story(second).state is RecordingState.REFUSED
    assert store.counting(first) == first
    assert store.story(first).state is RecordingState.READY
    standing = store.standing(first)
    assert standing is not None and standing.latest[0].content == b"person-1 record"


def test_where_the_first_never_came_into_a_record_it_is_worked_on_again_after_the_refusal(store):
    first = made_ready(store)
    store.answer(sending(store), rejected(), None, NOW, "worker")
    second = corrected(store, first)
    store.answer(sending(store, "record", now=LATER), rejected(), None, LATER, "worker")
    (delivery,) = store.story(second).deliveries
    assert store.refuse(delivery.delivery_id, "A. Nurse", "the first is right", LATER) == Decided(second)
    assert store.story(first).state is RecordingState.RECEIVED


def test_a_correction_that_completes_what_it_overtook_is_not_refused(store):
    first = made_ready(store)
    claim = sending(store)
    store.note_filed(claim, Way.PUT, [a_resource()], NOW, "worker")
    store.answer(claim, rejected(), None, NOW, "worker")
    second = corrected(store, first)
    store.answer(sending(store, "record", now=LATER), rejected(), None, LATER, "worker")
    (delivery,) = store.story(second).deliveries
    assert isinstance(store.refuse(delivery.delivery_id, "A. Nurse", "why", LATER), NotPossible)


def test_a_withdrawal_takes_back_what_the_correction_brought(store):
    first = made_ready(store)
    deliver(store)
    second = corrected(store, first)
    store.answer(sending(store, "record", now=LATER), DONE, None, LATER, "worker")
    standing = store.standing(second)
    assert standing is not None
    assert [each.content for each in standing.latest] == [b"corrected"]
    assert store.withdraw(second, standing, {"record": b"gone"}, "A. Nurse", "why", LATER) == Decided(second)
    store.answer(sending(store, "record", now=LATER), DONE, None, LATER, "worker")
    assert store.overview(LATER).recordings == {Shown.RETRACTED: 2}


def renewed(*contents: bytes) -> Renewed:
    new = tuple(NewDelivery(destination="record", act=Act.CORRECT, content=each, way=Way.PUT) for each in contents)
    return Renewed(facts=b'{"anew":1}', began=NOW - timedelta(days=1), ended=NOW, instants=(1, 2), deliveries=new)


def test_a_result_made_anew_is_sent_and_kept_and_told(store):
    first = made_ready(store)
    deliver(store)
    standing = store.standing(first)
    assert standing is not None
    decided = store.renew(first, standing, renewed(b"anew"), WHO, EventKind.CORRECTED, LATER)
    assert decided == Decided(first)
    assert store.facts(first) == b'{"anew":1}'
    (decision,) = store.story(first).decisions
    assert (decision.verdict, decision.by, decision.why) == (EventKind.CORRECTED, WHO.by, WHO.why)
    claim = sending(store, "record", now=LATER)
    assert (claim.act, claim.content) == (Act.CORRECT, b"anew")
    store.answer(claim, TryLater(why="away", unreachable=True), LATER, LATER, "worker")
    assert store.renew(first, standing, renewed(b"older"), WHO, EventKind.CORRECTED, LATER) is None, "it moved on"


def test_what_is_withdrawn_is_not_made_anew(store):
    first = made_ready(store)
    deliver(store)
    standing = store.standing(first)
    assert standing is not None
    store.withdraw(first, standing, {"record": b"gone"}, "A. Nurse", "why", LATER)
    assert isinstance(store.renew(first, standing, renewed(b"anew"), WHO, EventKind.CORRECTED, LATER), NotPossible)


def test_everything_to_work_on_it_again_is_there(store):
    first = made_ready(store, b"the export")
    found = store.to_work_again(first)
    assert (found.name, found.content, found.state) == ("export.csv", b"the export", RecordingState.READY)
    assert (found.waivers, found.given, found.companion) == ((), None, None)
