"""One delivery: claim, find the person, write, read back, store the answer."""

import random
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from gateway import fhir
from gateway.deliver import Recipient, backoff
from gateway.deliver.ordering import Remembered
from gateway.errors import LeaseLost, StoreError, StoreUnavailable, place_of
from gateway.model import Answer, Hold, HoldReason, Rejected, TryLater
from gateway.model.event import ACTOR
from gateway.pacing import Gates
from gateway.store import DeliveryClaim, Store
from gateway.tracing import Tracer, Tracing

LEASE = timedelta(minutes=10)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """What became of one attempt to deliver."""

    recording_id: str
    destination: str
    answer: Answer


class Unanswered:
    """Claims whose answer the store could not take. They are let go before the next is claimed, so that they come
    back, with their outcome unknown, as soon as the store can be written, and not when their lease ends.
    """

    def __init__(self) -> None:
        self._claims: deque[DeliveryClaim] = deque()

    def keep(self, claim: DeliveryClaim) -> None:
        """Its answer was lost."""
        self._claims.append(claim)

    def let_go(self, store: Store) -> None:
        """All of them. Raises StoreError where the store still cannot be written; they are kept then."""
        for _ in range(len(self._claims)):
            try:
                claim = self._claims.popleft()
            except IndexError:  # another thread lets it go
                return
            try:
                store.let_go(claim)
            except StoreError:
                self._claims.append(claim)
                raise


def deliver_next(
    store: Store,
    servers: Mapping[str, Recipient],
    worker: str,
    clock: Callable[[], datetime],
    tracing: Tracing | None = None,
    gates: Gates | None = None,
    unanswered: Unanswered | None = None,
) -> Sent | None:
    """Make the next due delivery to any of these servers (T3, T4). None when nothing is due, or may be sent now.

    Raises StoreUnavailable where the store cannot be written; `unanswered` then remembers what was under way.
    """
    if unanswered is not None:
        unanswered.let_go(store)
    claim = _claimed(store, worker, clock(), set(servers), gates)
    if claim is None:
        return None
    server = servers[claim.destination]
    tracer = tracing.of(store.key, server, claim) if tracing else Tracer(None, claim)
    try:
        answer = _file(store, server, claim, clock, tracer)
        wait = backoff(claim.attempt, answer, random.random()) if isinstance(answer, TryLater) else None
        due = clock() + wait if wait is not None else None
        store.answer(claim, answer, due, clock(), ACTOR, tracer.ended(answer, clock()))
        if gates:
            gates.answered(claim.destination, claim.recording_id, answer, clock())
    except LeaseLost:  # another worker took it over and finishes it
        answer = TryLater(why="another worker took this delivery over")
    except StoreUnavailable:
        if unanswered is not None:
            unanswered.keep(claim)
        raise
    return Sent(recording_id=claim.recording_id, destination=claim.destination, answer=answer)


def _claimed(store: Store, worker: str, now: datetime, names: set[str], gates: Gates | None) -> DeliveryClaim | None:
    if gates is None:
        return store.claim_delivery(worker, LEASE, now, names)
    passes, chosen = gates.enter(names, now), None
    try:
        claim = store.claim_delivery(worker, LEASE, now, passes.keys()) if passes else None
        chosen = claim.destination if claim else None
        return claim
    finally:
        gates.leave(passes, chosen, now)


def _file(
    store: Store, server: Recipient, claim: DeliveryClaim, clock: Callable[[], datetime], tracer: Tracer
) -> Answer:
    try:
        parcel = fhir.unpack(claim.content)
        ids = {resource.id for resource in parcel.resources} | fhir.links(parcel.resources)
        ledger = store.ledger(claim.destination, ids)
        tracer.begins(parcel, ledger)
        return server.file(
            parcel,
            claim.way,
            ledger,
            note=lambda way, filed: store.note_filed(claim, way, filed, clock(), ACTOR, tracer.filed(filed, clock())),
            uncertain=claim.outcome_unknown,
            waived=frozenset(waiver.rule for waiver in claim.waivers),
            act=claim.act,
            found=lambda link: store.keep_traces(tracer.found(link, clock()), clock()),
            orders=Remembered(
                chosen=store.order_of(claim),
                taken=lambda orders: store.orders_taken(claim, orders),
                keep=lambda order: store.keep_order(claim, order, clock()),
            ),
        )
    except StoreError:
        raise
    except Exception as error:
        hold = Hold(reason=HoldReason.PROCESSING_FAULT, detail=place_of(error))
        return Rejected(hold=hold, outcome_unknown=True)
