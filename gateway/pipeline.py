"""START HERE: the whole flow, top to bottom, and what a person may decide.

    take_in        the original file is stored before anything else happens           (T1)
    process_next   read -> validate -> analyse -> report -> map to FHIR -> check;
                   the verdict and all that is to be sent are stored together         (T2)
    deliver_next   claim, find the person, write, read back, store the answer     (T3, T4)
    release, rename, refuse: a named person decides about what is held; gateway.amending corrects what was filed,
                   signs it off, takes it back

Every step is safe to repeat: a kill between any two of them strands nothing. What a file turns out to be is decided
in `gateway.intake`, which does no I/O, and beside what is known in `gateway.settling`; this module only moves values
between them, the store and the servers.
"""

import contextlib
from dataclasses import dataclass
from datetime import datetime, timedelta

from gateway.delivering import Sent, deliver_next
from gateway.errors import ContentFault, LeaseLost, StoreError, StoreUnavailable, place_of
from gateway.intake import Tools
from gateway.model import Companion, Hold, HoldReason, Person
from gateway.model.event import ACTOR
from gateway.settling import settle
from gateway.store import Decided, HeldIntake, IntakeClaim, NotPossible, ReadyIntake, Receipt, Store

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
        return settle(store, claim, tools, now)
    except StoreError:  # a full disk or a locked store says nothing about this file
        raise
    except ContentFault as fault:
        hold = Hold(reason=HoldReason.CONTENT_FAULT, detail=f"{len(fault.problems)} faults", findings=fault.problems)
    except Exception as error:
        hold = Hold(reason=HoldReason.PROCESSING_FAULT, detail=place_of(error))
    return HeldIntake(hold=hold, facts=None, events=())


def release(store: Store, target: str, by: str, why: str, now: datetime) -> Decided | NotPossible:
    """A named person lets the one named rule pass; everything else is checked again."""
    return store.release(target, by, why, now)


def rename(store: Store, target: str, given: Person, by: str, why: str, now: datetime) -> Decided | NotPossible:
    """A named person says whose it is; every rule sees it again as that person's, and nothing is waived."""
    return store.rename(target, given, by, why, now)


def refuse(store: Store, target: str, by: str, why: str, now: datetime) -> Decided | NotPossible:
    """A named person decides that the recording is not to be filed."""
    return store.refuse(target, by, why, now)
