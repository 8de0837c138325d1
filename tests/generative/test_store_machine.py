"""A model of the outbox beside the real one: claim, lease, part, complete, fail, reject, decide, expire.

The model is plain lists, and the same for both databases. After every step both must agree on every state, on who
may be claimed next, and the audit trail must have grown by what happened.
"""

import tempfile
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing, contextmanager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    consumes,
    initialize,
    invariant,
    multiple,
    rule,
    run_state_machine_as_test,
)

from gateway.audit import verify
from gateway.errors import LeaseLost
from gateway.model import Delivered, DeliveryState, RecordingState, TryLater, Way
from gateway.store import Decided, DeliveryClaim, IntakeClaim, Store
from tests.databases import KINDS, Place, in_folder
from tests.unit.store.cases import KEY, LEASE, NOW, OVER, a_resource, held, ready, rejected

DESTINATIONS = ("record", "research")


@dataclass
class Parcel:
    """The model's delivery. `fence` counts claims; `alive`: the lease runs; `changed`: by the clock of then."""

    recording: str
    destination: str
    person: str
    state: DeliveryState
    due: datetime
    changed: datetime
    unknown: bool = False
    fence: int = 0
    alive: bool = False
    filed: bool = False


@dataclass
class File:
    """The model's recording."""

    state: RecordingState
    fence: int = 0
    alive: bool = False


class StoreMachine(RuleBasedStateMachine):
    intake_claims = Bundle("intake_claims")
    delivery_claims = Bundle("delivery_claims")

    def __init__(self, new_place: Callable[[], AbstractContextManager[Place]]):
        super().__init__()
        self.new_place = new_place

    @initialize()
    def open(self):
        self.opened = self.new_place()
        place = self.opened.__enter__()
        self.store = Store.open(place.address)
        if not place.on_server:
            with closing(self.store._database._engine.raw_connection()) as pooled:  # the pool hands it out again
                pooled.execute("PRAGMA synchronous = OFF")  # no power cut here: many more steps a second
        self.now, self.made, self.audited = NOW, 0, 0
        self.files: dict[str, File] = {}
        self.parcels: dict[str, Parcel] = {}

    def teardown(self):
        if hasattr(self, "store"):
            assert verify(self.store.audit_entries(), None, KEY.public_key()).whole
            self.store.close()
            self.opened.__exit__(None, None, None)

    # taking in

    @rule(again=st.booleans())
    def receive(self, again):
        number = self.made if again and self.made else self.made + 1
        self.made = number
        receipt = self.store.receive(f"export {number}".encode(), "x.csv", self.now, "service")
        assert receipt.again == (receipt.recording_id in self.files)
        self.files.setdefault(receipt.recording_id, File(RecordingState.RECEIVED))
        self.audited += 1

    @rule(target=intake_claims, lease=st.sampled_from([LEASE, OVER]))
    def claim_received(self, lease):
        free = [name for name, f in self.files.items() if f.state is RecordingState.RECEIVED and not f.alive]
        claim = self.store.claim_received("worker", lease, self.now)
        assert (claim and claim.recording_id) == next(iter(free), None)
        if claim is None:
            return multiple()
        file = self.files[claim.recording_id]
        self.audited += claim.attempt > 1  # recovered
        file.fence, file.alive = claim.fence, lease is LEASE
        return claim

    @rule(claim=consumes(intake_claims), person=st.sampled_from(["p1", "p2"]), good=st.booleans())
    def finish_intake(self, claim: IntakeClaim, person, good):
        file = self.files[claim.recording_id]
        outcome = ready(person, *DESTINATIONS) if good else held()
        if file.fence != claim.fence or file.state is not RecordingState.RECEIVED:
            with pytest.raises(LeaseLost):
                self.store.finish_intake(claim, outcome, self.now, "worker")
            return
        assert self.store.finish_intake(claim, outcome, self.now, "worker")
        file.state, file.alive = (RecordingState.READY if good else RecordingState.HELD), False
        self.audited += 2 if good else 1
        if good:
            for delivery in self.store.story(claim.recording_id).deliveries:
                self.parcels[delivery.delivery_id] = Parcel(
                    claim.recording_id, delivery.destination, person, DeliveryState.WAITING, self.now, self.now
                )

    @rule(person=st.sampled_from(["p1", "p2"]))
    def made_ready(self, person):
        """A new file and the whole intake in one step, so that deliveries meet each other often enough."""
        self.receive(again=False)
        while (claim := self.store.claim_received("worker", LEASE, self.now)) is not None:
            self.files[claim.recording_id].fence = claim.fence
            self.audited += claim.attempt > 1
            self.finish_intake(claim, person, good=True)

    # delivering

    def claimable(self, destinations):
        found = []
        for number, (name, parcel) in enumerate(self.parcels.items()):
            blocked = any(
                other.state in (DeliveryState.WAITING, DeliveryState.SENDING)
                and (other.destination, other.person) == (parcel.destination, parcel.person)
                for other in list(self.parcels.values())[:number]
            )
            waiting = parcel.state is DeliveryState.WAITING and parcel.due <= self.now
            lost = parcel.state is DeliveryState.SENDING and not parcel.alive
            if parcel.destination in destinations and not blocked and (waiting or lost):
                found.append((parcel.due, number, name))
        return min(found)[2] if found else None

    def bring_back(self):
        """What was put off by a clock that stood ahead waits as long as was meant, from now."""
        for parcel in self.parcels.values():
            ahead = parcel.changed > self.now + timedelta(minutes=1)
            if parcel.state is DeliveryState.WAITING and parcel.due > self.now and ahead:
                parcel.due, parcel.changed = self.now + (parcel.due - parcel.changed), self.now

    @rule(
        target=delivery_claims,
        lease=st.sampled_from([LEASE, OVER]),
        destinations=st.sampled_from([DESTINATIONS, ("record",), ("research",)]),
    )
    def claim_delivery(self, lease, destinations):
        self.bring_back()
        expected = self.claimable(destinations)
        claim = self.store.claim_delivery("worker", lease, self.now, destinations)
        assert (claim and claim.delivery_id) == expected
        if claim is None:
            return multiple()
        parcel = self.parcels[claim.delivery_id]
        lost = parcel.state is DeliveryState.SENDING
        assert claim.outcome_unknown == (parcel.unknown or lost)
        assert claim.content == f"{parcel.person} {parcel.destination}".encode()
        assert claim.fence > parcel.fence
        parcel.state, parcel.unknown = DeliveryState.SENDING, claim.outcome_unknown
        parcel.fence, parcel.alive = claim.fence, lease is LEASE
        self.audited += 2 if lost else 1
        return claim

    def mine(self, claim: DeliveryClaim) -> bool:
        parcel = self.parcels[claim.delivery_id]
        return parcel.state is DeliveryState.SENDING and parcel.fence == claim.fence

    @rule(claim=delivery_claims)
    def note_filed(self, claim: DeliveryClaim):
        resource = a_resource(1, resource_id=claim.delivery_id)
        alive = replace(claim, lease=LEASE)
        if not self.mine(claim):
            with pytest.raises(LeaseLost):
                self.store.note_filed(alive, Way.PUT, [resource], self.now, "worker")
            return
        self.store.note_filed(alive, Way.PUT, [resource], self.now, "worker")
        parcel = self.parcels[claim.delivery_id]
        parcel.alive = parcel.filed = True
        self.audited += 1

    @rule(
        claim=consumes(delivery_claims),
        minutes=st.integers(0, 3),
        how=st.sampled_from(["done", "later", "lost", "rejected"]),
    )
    def answer(self, claim: DeliveryClaim, minutes, how):
        due = self.now + timedelta(minutes=minutes)
        answers = {
            "done": (Delivered(patient="7", count=1), DeliveryState.DONE),
            "later": (TryLater(why="down"), DeliveryState.WAITING),
            "lost": (TryLater(why="lost", outcome_unknown=True), DeliveryState.WAITING),
            "rejected": (rejected(), DeliveryState.HELD),
        }
        answer, state = answers[how]
        if not self.mine(claim):
            with pytest.raises(LeaseLost):
                self.store.answer(claim, answer, due, self.now, "worker")
            return
        self.store.answer(claim, answer, due, self.now, "worker")
        parcel = self.parcels[claim.delivery_id]
        parcel.state, parcel.alive = state, False
        parcel.unknown = how != "done" and (parcel.unknown or how == "lost")
        if state is DeliveryState.WAITING:
            parcel.due, parcel.changed = due, self.now
        self.audited += 1

    # people and time

    @rule(data=st.data(), let_pass=st.booleans())
    def decide(self, data, let_pass):
        items = self.store.held()
        if not items:
            return
        item = data.draw(st.sampled_from(items))
        decide = self.store.release if let_pass else self.store.refuse
        decided = decide(item.id, "A. Nurse", "because", self.now)
        parcel = self.parcels.get(item.id)
        possible = let_pass or parcel is None or not (parcel.unknown or parcel.filed)
        assert isinstance(decided, Decided) == possible
        if not possible:
            return
        self.audited += 1
        if parcel is None:
            self.files[item.id].state = RecordingState.RECEIVED if let_pass else RecordingState.REFUSED
        elif let_pass:
            parcel.state, parcel.due, parcel.changed = DeliveryState.WAITING, self.now, self.now
        else:
            parcel.state = DeliveryState.CANCELLED
            rest = {other.state for other in self.parcels.values() if other.recording == parcel.recording}
            if rest == {DeliveryState.CANCELLED}:
                self.files[parcel.recording].state = RecordingState.REFUSED

    @rule(data=st.data())
    def take_back(self, data):
        """Its deliveries stay cancelled until it was worked on again."""
        refused = [name for name, file in self.files.items() if file.state is RecordingState.REFUSED]
        if refused:
            name = data.draw(st.sampled_from(refused))
            assert self.store.find_held(name, refused=True) == name
            assert isinstance(self.store.release(name, "A. Nurse", "mistake", self.now), Decided)
            self.files[name].state = RecordingState.RECEIVED
            self.audited += 1

    @rule(minutes=st.integers(1, 5))
    def wait(self, minutes):
        self.now += timedelta(minutes=minutes)

    @rule(back=st.sampled_from([timedelta(seconds=30), timedelta(hours=3), timedelta(days=3650)]))
    def set_the_clock_right(self, back):
        """It stood ahead; what happened meanwhile was noted by it."""
        self.now -= back

    @invariant()
    def both_agree(self):
        if not hasattr(self, "store"):
            return
        counts = self.store.counts()
        files = [file.state for file in self.files.values()]
        parcels = [parcel.state for parcel in self.parcels.values()]
        assert counts.recordings == {state: files.count(state) for state in set(files)}
        assert counts.deliveries == {state: parcels.count(state) for state in set(parcels)}
        assert self.store.head()[0] == self.audited
        assert {item.id for item in self.store.held()} == {
            *(name for name, file in self.files.items() if file.state is RecordingState.HELD),
            *(name for name, parcel in self.parcels.items() if parcel.state is DeliveryState.HELD),
        }


@pytest.mark.parametrize("kind", KINDS)
def test_outbox_and_model_agree(kind, request, tmp_path_factory):
    @contextmanager
    def new_place() -> Iterator[Place]:
        if kind == "sqlite":
            with tempfile.TemporaryDirectory(dir=tmp_path_factory.getbasetemp()) as folder:
                yield in_folder(Path(folder))
        else:
            server = request.getfixturevalue("postgres")
            address = server.place()
            yield Place(address)
            server.drop(address)

    chosen = settings(max_examples=35, stateful_step_count=30, deadline=None, suppress_health_check=list(HealthCheck))
    run_state_machine_as_test(lambda: StoreMachine(new_place), settings=chosen)
