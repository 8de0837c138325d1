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
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from gateway import fhir
from gateway.delivering import Sent, deliver_next
from gateway.enclosing import enclosed
from gateway.errors import ContentFault, LeaseLost, StoreError, StoreUnavailable, place_of
from gateway.intake import (
    Considered,
    Made,
    Route,
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
from gateway.model import Act, Companion, EventKind, Hold, HoldReason, Person
from gateway.model.event import ACTOR
from gateway.model.plain import plain_json
from gateway.placing import out_to, placed, question_of
from gateway.recalling import earlier_of, hold_if_known, hold_if_withdrawn, known_of, person_key, withdrawn_of
from gateway.reviewing import held_for_review, signature
from gateway.store import (
    Decided,
    HeldIntake,
    IntakeClaim,
    KnownRecording,
    Neighbour,
    NewDelivery,
    NotPossible,
    Question,
    ReadyIntake,
    Receipt,
    Store,
    Withdrawn,
)
from gateway.validate.known import instants_of

__all__ = ["Processed", "Sent", "deliver_next", "process_next", "refuse", "release", "rename", "take_in"]

INTAKE_LEASE = timedelta(minutes=2)
MOST_ATTEMPTS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Processed:
    """What became of one received file: its recording id, and why it waits, None when it goes on."""

    recording_id: str
    hold: Hold | None
    unclaimed: tuple[tuple[str, str], ...] = ()
    """destination, and a published profile that some resources go without, with the reasons as codes"""


def take_in(
    store: Store,
    content: bytes,
    name: str,
    now: datetime,
    inbox: str | None = None,
    companion: Companion | None = None,
) -> Receipt:
    """Store the original unchanged, and the PDF that came with it (T1). Only after this may the inbox file move.
    `inbox`: see `Store.receive`.
    """
    return store.receive(content, name, now, ACTOR, inbox, companion)


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
        hold = Hold(reason=HoldReason.PROCESSING_FAULT, detail=place_of(error))
    return HeldIntake(hold=hold, facts=None, events=())


def _settle(store: Store, claim: IntakeClaim, tools: Tools, now: datetime) -> ReadyIntake | HeldIntake:
    looked = _looked_at(store, claim, tools, now)
    considered = looked.considered
    facts = plain_json(considered.facts)
    if considered.hold is not None:
        return HeldIntake(hold=considered.hold, facts=facts, events=((EventKind.READ, how_read(considered)),))
    made = make(considered, tools, now, signature(claim.waivers) if tools.sign_off_first else None)
    recording = made.recording
    issue = max(claim.issue, *(each.issue for each in looked.withdrawn), 1)
    key = key_of(recording, store.key, issue)
    identity = fhir.Identity(store.key, key)
    taken = [route for route, kept_back in where_to(considered, tools) if kept_back is None]
    parcels = [(route, parcel_for(route, made, identity, tools, now)) for route in taken]
    return ReadyIntake(
        key=key,
        person_key=person_key(store, considered),
        serial=recording.monitor.serial,
        began=recording.began,
        ended=recording.ended,
        instants=instants_of(recording),
        facts=facts,
        events=((EventKind.READ, _told(considered, made, parcels, tools)),),
        deliveries=tuple(
            NewDelivery(destination=route.filing.destination, act=Act.FILE, content=fhir.pack(parcel))
            for route, parcel in parcels
        ),
        known=frozenset(each.recording_id for each in looked.known),
        question=looked.question,
        beside=frozenset(each.recording_id for each in looked.beside),
        issue=issue,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Looked:
    """A file beside all that the store holds already."""

    considered: Considered
    known: tuple[KnownRecording, ...]
    withdrawn: tuple[Withdrawn, ...]
    question: Question | None
    beside: tuple[Neighbour, ...]


def _looked_at(store: Store, claim: IntakeClaim, tools: Tools, now: datetime) -> _Looked:
    waived = frozenset(waiver.rule for waiver in claim.waivers)
    considered = consider(claim.content, claim.name, tools, now, waived, claim.given)
    considered = enclosed(considered, claim.companion, tools)
    known = known_of(store, considered)
    considered = hold_if_known(considered, known, claim.recording_id)
    withdrawn = withdrawn_of(store, considered)
    considered = hold_if_withdrawn(considered, withdrawn, claim.waivers)
    question = question_of(store, considered, claim.recording_id)
    beside = store.neighbours(question) if question else ()
    considered = placed(considered, question, beside, out_to(store, question), tools, waived)
    considered = compared(considered, earlier_of(store, considered, claim.recording_id))
    considered = held_for_review(considered, tools, claim.waivers)
    return _Looked(considered=considered, known=known, withdrawn=withdrawn, question=question, beside=tuple(beside))


def _told(
    considered: Considered, made: Made, parcels: Sequence[tuple[Route, fhir.Parcel]], tools: Tools
) -> dict[str, object]:
    """What the audit log keeps of the way from file to results: counts and codes only."""
    left = {route.filing.destination: left_unclaimed(route, parcel, tools) for route, parcel in parcels}
    unclaimed = {name: list(texts) for name, texts in left.items() if texts}
    found = how_read(considered) | how_made(made) | how_routed(considered, tools)
    return found | ({"unclaimed": unclaimed} if unclaimed else {})


def release(store: Store, target: str, by: str, why: str, now: datetime) -> Decided | NotPossible:
    """A named person lets the one named rule pass; everything else is checked again."""
    return store.release(target, by, why, now)


def rename(store: Store, target: str, given: Person, by: str, why: str, now: datetime) -> Decided | NotPossible:
    """A named person says whose it is; every rule sees it again as that person's, and nothing is waived."""
    return store.rename(target, given, by, why, now)


def refuse(store: Store, target: str, by: str, why: str, now: datetime) -> Decided | NotPossible:
    """A named person decides that the recording is not to be filed."""
    return store.refuse(target, by, why, now)
