"""START HERE: the whole flow, top to bottom, and what a person may decide.

    take_in        the original file is stored before anything else happens           (T1)
    process_next   read -> validate -> analyse -> report -> map to FHIR -> check;
                   the verdict and all that is to be sent are stored together         (T2)
    deliver_next   claim, find the person, write, read back, store the answer     (T3, T4)
    release, rename, refuse: a named person decides about what is held; gateway.amending takes back what was filed

Every step is safe to repeat: a kill between any two of them strands nothing. What a file turns out to be is decided
in `gateway.intake`, which does no I/O; this module only moves values between it, the store and the servers.
"""

import contextlib
import random
import traceback
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from gateway import fhir
from gateway.deliver import Recipient, backoff
from gateway.errors import ContentFault, LeaseLost, StoreError, StoreUnavailable
from gateway.intake import (
    Considered,
    Tools,
    compared,
    consider,
    how_made,
    how_read,
    how_routed,
    key_of,
    left_unclaimed,
    make,
    parcel_for,
    where_to,
)
from gateway.model import Act, Answer, EventKind, Hold, HoldReason, Person, Rejected, TryLater, Waiver
from gateway.model.plain import plain_json
from gateway.pacing import Gates
from gateway.placing import placed, question_of
from gateway.reviewing import held_for_review, signature
from gateway.store import (
    Decided,
    DeliveryClaim,
    HeldIntake,
    IntakeClaim,
    KnownRecording,
    NewDelivery,
    NotPossible,
    ReadyIntake,
    Receipt,
    Store,
    Withdrawn,
)
from gateway.tracing import Tracer, Tracing
from gateway.validate.known import (
    WITHDRAWN_RULE,
    Earlier,
    hold_if_known,
    hold_if_withdrawn,
    instants_of,
    same_recording,
)

ACTOR = "gateway"
INTAKE_LEASE = timedelta(minutes=2)
DELIVERY_LEASE = timedelta(minutes=10)
MOST_ATTEMPTS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Processed:
    """What became of one received file: its recording id, and why it waits, None when it goes on."""

    recording_id: str
    hold: Hold | None
    unclaimed: tuple[tuple[str, str], ...] = ()
    """destination, and a published profile that some resources go without, with the reasons as codes"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """What became of one attempt to deliver."""

    recording_id: str
    destination: str
    answer: Answer


def take_in(store: Store, content: bytes, name: str, now: datetime, inbox: str | None = None) -> Receipt:
    """Store the original unchanged (T1). Only after this may the inbox file move. `inbox`: see `Store.receive`."""
    return store.receive(content, name, now, ACTOR, inbox)


def process_next(store: Store, tools: Tools, worker: str, now: datetime) -> Processed | None:
    """Work on the oldest received file (T2). None when there is none."""
    claim = store.claim_received(worker, INTAKE_LEASE, now)
    if claim is None:
        return None
    try:
        outcome = _outcome(store, claim, tools, now)
        with contextlib.suppress(LeaseLost):  # another worker took it over and finishes it
            while not store.finish_intake(claim, outcome, now, ACTOR):  # another recording of the person came first
                outcome = _outcome(store, claim, tools, now)
    except StoreUnavailable:  # says nothing about this file, so it is no attempt at it
        store.give_back(claim, now)
        raise
    if isinstance(outcome, HeldIntake):
        return Processed(recording_id=claim.recording_id, hold=outcome.hold)
    return Processed(recording_id=claim.recording_id, hold=None, unclaimed=_unclaimed(outcome))


def _unclaimed(outcome: ReadyIntake) -> tuple[tuple[str, str], ...]:
    """As the audit log tells it."""
    for _, detail in outcome.events:
        if isinstance(found := detail.get("unclaimed"), dict):
            return tuple((name, text) for name, texts in found.items() for text in texts)
    return ()


def _outcome(store: Store, claim: IntakeClaim, tools: Tools, now: datetime) -> ReadyIntake | HeldIntake:
    if claim.attempt > MOST_ATTEMPTS:
        hold = Hold(reason=HoldReason.PROCESSING_FAULT, detail=f"given up after {MOST_ATTEMPTS} attempts")
        return HeldIntake(hold=hold, facts=None, events=())
    try:
        return _settle(store, claim, tools, now)
    except StoreError:  # a full disk or a locked store says nothing about this file
        raise
    except ContentFault as fault:
        hold = Hold(reason=HoldReason.CONTENT_FAULT, detail=f"{len(fault.problems)} faults", findings=fault.problems)
    except Exception as error:
        hold = Hold(reason=HoldReason.PROCESSING_FAULT, detail=_place(error))
    return HeldIntake(hold=hold, facts=None, events=())


def _settle(store: Store, claim: IntakeClaim, tools: Tools, now: datetime) -> ReadyIntake | HeldIntake:
    waived = frozenset(waiver.rule for waiver in claim.waivers)
    considered = consider(claim.content, claim.name, tools, now, waived, claim.given)
    known = _known(store, considered)
    considered = _hold_if_known(considered, known, claim.recording_id)
    gone = _withdrawn(store, considered)
    considered = _hold_if_withdrawn(considered, gone, claim.waivers)
    question = question_of(store, considered, claim.recording_id)
    beside = store.neighbours(question) if question else ()
    considered = placed(considered, question, beside, tools, waived)
    considered = compared(considered, _earlier(store, considered, claim.recording_id))
    considered = held_for_review(considered, tools, claim.waivers)
    facts = plain_json(considered.facts)
    if considered.hold is not None:
        return HeldIntake(hold=considered.hold, facts=facts, events=((EventKind.READ, how_read(considered)),))
    made = make(considered, tools, now, signature(claim.waivers) if tools.sign_off_first else None)
    recording = made.recording
    issue = max(claim.issue, *(each.issue for each in gone), 1)
    key = key_of(recording, store.key, issue)
    identity = fhir.Identity(store.key, key)
    taken = [route for route, kept_back in where_to(considered, tools) if kept_back is None]
    parcels = [(route, parcel_for(route, made, identity, tools, now)) for route in taken]
    left = {route.filing.destination: left_unclaimed(route, parcel, tools) for route, parcel in parcels}
    unclaimed = {name: list(texts) for name, texts in left.items() if texts}
    told = (
        how_read(considered)
        | how_made(made)
        | how_routed(considered, tools)
        | ({"unclaimed": unclaimed} if unclaimed else {})
    )
    return ReadyIntake(
        key=key,
        person_key=_person_key(store, considered),
        serial=recording.monitor.serial,
        began=recording.began,
        ended=recording.ended,
        instants=instants_of(recording),
        facts=facts,
        events=((EventKind.READ, told),),
        deliveries=tuple(
            NewDelivery(destination=route.filing.destination, act=Act.FILE, content=fhir.pack(parcel))
            for route, parcel in parcels
        ),
        known=frozenset(each.recording_id for each in known),
        question=question,
        beside=frozenset(each.recording_id for each in beside),
        issue=issue,
    )


def _known(store: Store, considered: Considered) -> tuple[KnownRecording, ...]:
    if considered.hold is not None or considered.recording is None:
        return ()
    return store.same_person(_person_key(store, considered))


def _earlier(store: Store, considered: Considered, own_id: str) -> tuple[bytes, ...]:
    if considered.hold is not None or considered.recording is None:
        return ()
    return store.earlier_results(_person_key(store, considered), considered.recording.began, own_id)


def _hold_if_known(considered: Considered, known: Iterable[KnownRecording], own_id: str) -> Considered:
    if considered.hold is not None or considered.recording is None:
        return considered
    earlier = [_before(each) for each in known if each.recording_id != own_id]
    hold = hold_if_known(considered.recording, earlier)
    return replace(considered, hold=hold) if hold else considered


def _withdrawn(store: Store, considered: Considered) -> tuple[Withdrawn, ...]:
    """What was taken back of this very recording, said to be this person's."""
    recording = considered.recording
    if considered.hold is not None or recording is None:
        return ()
    return tuple(
        each for each in store.withdrawn(_person_key(store, considered)) if same_recording(recording, _before(each))
    )


def _hold_if_withdrawn(considered: Considered, gone: Sequence[Withdrawn], waivers: Iterable[Waiver]) -> Considered:
    """A release counts only for what was withdrawn before it: a second withdrawal needs a second one."""
    released = max((waiver.at for waiver in waivers if waiver.rule == WITHDRAWN_RULE), default=None)
    open_ = [each for each in gone if released is None or each.at > released or not each.finished]
    if not open_ or considered.recording is None:
        return considered
    finished = all(each.finished for each in gone)
    hold = hold_if_withdrawn(considered.recording, [_before(each) for each in open_], finished)
    return replace(considered, hold=hold) if hold else considered


def _before(each: Withdrawn | KnownRecording) -> Earlier:
    return Earlier(recording_id=each.recording_id, serial=each.serial, instants=frozenset(each.instants))


def _person_key(store: Store, considered: Considered) -> str:
    if considered.recording is None or considered.recording.person.identifier is None:
        raise ValueError("a recording without an identifier is always held")
    return fhir.person_key(store.key, considered.recording.person.identifier)


def deliver_next(
    store: Store,
    servers: Mapping[str, Recipient],
    worker: str,
    clock: Callable[[], datetime],
    tracing: Tracing | None = None,
    gates: Gates | None = None,
) -> Sent | None:
    """Make the next due delivery to any of these servers (T3, T4). None when nothing is due, or may be sent now."""
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
    return Sent(recording_id=claim.recording_id, destination=claim.destination, answer=answer)


def _claimed(store: Store, worker: str, now: datetime, names: set[str], gates: Gates | None) -> DeliveryClaim | None:
    if gates is None:
        return store.claim_delivery(worker, DELIVERY_LEASE, now, names)
    passes, chosen = gates.enter(names, now), None
    try:
        claim = store.claim_delivery(worker, DELIVERY_LEASE, now, passes.keys()) if passes else None
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
        )
    except StoreError:
        raise
    except Exception as error:
        hold = Hold(reason=HoldReason.PROCESSING_FAULT, detail=_place(error))
        return Rejected(hold=hold, outcome_unknown=True)


def _place(error: Exception) -> str:
    """Kind and place of a fault, for IT. Its text stays out: it may quote a person's details."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "gateway" in frame.filename] or frames
    return f"{type(error).__name__} at {Path(ours[-1].filename).name}:{ours[-1].lineno}"


def release(store: Store, target: str, by: str, why: str, now: datetime) -> Decided | NotPossible:
    """A named person lets the one named rule pass; everything else is checked again."""
    return store.release(target, by, why, now)


def rename(store: Store, target: str, given: Person, by: str, why: str, now: datetime) -> Decided | NotPossible:
    """A named person says whose it is; every rule sees it again as that person's, and nothing is waived."""
    return store.rename(target, given, by, why, now)


def refuse(store: Store, target: str, by: str, why: str, now: datetime) -> Decided | NotPossible:
    """A named person decides that the recording is not to be filed."""
    return store.refuse(target, by, why, now)
