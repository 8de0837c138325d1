"""T2: what a received file comes to, beside all that the store holds: held, ready, or a correction."""

from dataclasses import dataclass
from datetime import datetime

from gateway import fhir
from gateway.correcting import Again, NewResult, deliveries
from gateway.enclosing import enclosed
from gateway.intake import Considered, Tools, compared, consider, key_of, make, parcel_for, where_to
from gateway.model import Act, EventKind, Waiver
from gateway.model.plain import plain_json
from gateway.noting import how_filed, how_read
from gateway.placing import out_to, placed, question_of
from gateway.recalling import again_of, earlier_of, hold_if_withdrawn, known_of, person_key, withdrawn_of
from gateway.reviewing import held_for_review, signature
from gateway.store import (
    Correcting,
    HeldIntake,
    IntakeClaim,
    KnownRecording,
    Neighbour,
    NewDelivery,
    Question,
    ReadyIntake,
    Store,
    Withdrawn,
)
from gateway.validate.known import instants_of


@dataclass(frozen=True, slots=True, kw_only=True)
class _Filing:
    """What is to be sent, under which key; `told` is what the audit log keeps of how it came about."""

    key: str
    issue: int
    serial: str | None
    deliveries: tuple[NewDelivery, ...]
    told: dict[str, object]
    corrects: Correcting | None = None


def settle(store: Store, claim: IntakeClaim, tools: Tools, now: datetime) -> ReadyIntake | HeldIntake:
    """Read, validated, analysed, compared with what is known, composed. Raises ContentFault, StoreError."""
    looked = _looked_at(store, claim, tools, now)
    considered, again = looked.considered, looked.again
    facts = plain_json(considered.facts)
    if considered.hold is not None:
        return HeldIntake(hold=considered.hold, facts=facts, events=((EventKind.READ, how_read(considered)),))
    signed = signature(claim.waivers) if tools.sign_off_first else None
    if again is not None:
        filing = _correction(store, again, considered, tools, signed, now)
    else:
        issue = max(claim.issue, *(each.issue for each in looked.withdrawn), 1)
        filing = _first(store, issue, considered, tools, signed, now)
    recording = considered.ready
    return ReadyIntake(
        key=filing.key,
        person_key=person_key(store, considered),
        serial=filing.serial,
        began=recording.began,
        ended=recording.ended,
        instants=instants_of(recording),
        facts=facts,
        events=((EventKind.READ, filing.told),),
        deliveries=filing.deliveries,
        known=frozenset(each.recording_id for each in looked.known),
        question=looked.question,
        beside=frozenset(each.recording_id for each in looked.beside),
        issue=filing.issue,
        corrects=filing.corrects,
    )


def _first(
    store: Store, issue: int, considered: Considered, tools: Tools, signed: Waiver | None, now: datetime
) -> _Filing:
    """A recording that no record holds yet, or holds no more."""
    made = make(considered, tools, now, signed)
    key = key_of(made.recording, store.key, issue)
    identity = fhir.Identity(store.key, key)
    taken = [route for route, kept_back in where_to(considered, tools) if kept_back is None]
    parcels = [(route, parcel_for(route, made, identity, tools, now)) for route in taken]
    return _Filing(
        key=key,
        issue=issue,
        serial=made.recording.monitor.serial,
        deliveries=tuple(
            NewDelivery(destination=route.filing.destination, act=Act.FILE, content=fhir.pack(parcel))
            for route, parcel in parcels
        ),
        told=how_filed(considered, made, parcels, tools),
    )


def _correction(
    store: Store, again: Again, considered: Considered, tools: Tools, signed: Waiver | None, now: datetime
) -> _Filing:
    """Another file of a recording that is filed: it keeps the key, and only differences are sent."""
    identity = fhir.Identity(store.key, again.standing.key)
    result = NewResult(considered=considered, tools=tools, identity=identity, gone=again.changes.gone, signed=signed)
    new = () if again.changes.nothing else tuple(deliveries(again.standing, result, now))
    said: dict[str, object] = {"corrects" if new else "adds_nothing_to": again.known.recording_id[:8]}
    if not again.changes.nothing:
        said["differences"] = again.changes.counted
    return _Filing(
        key=again.standing.key,
        issue=again.known.issue,
        serial=considered.ready.monitor.serial or again.known.serial,
        deliveries=new,
        told=how_read(considered) | said,
        corrects=Correcting(recording_id=again.known.recording_id, standing=again.standing, counts=bool(new)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Looked:
    """A file beside all that the store holds already."""

    considered: Considered
    known: tuple[KnownRecording, ...]
    again: Again | None
    withdrawn: tuple[Withdrawn, ...]
    question: Question | None
    beside: tuple[Neighbour, ...]


def _looked_at(store: Store, claim: IntakeClaim, tools: Tools, now: datetime) -> _Looked:
    waived = frozenset(waiver.rule for waiver in claim.waivers)
    considered = consider(claim.content, claim.name, tools, now, waived, claim.given)
    considered = enclosed(considered, claim.companion, tools)
    known = known_of(store, considered)
    considered, again = again_of(store, considered, known, claim.recording_id, waived)
    withdrawn = withdrawn_of(store, considered)
    considered = hold_if_withdrawn(considered, withdrawn, claim.waivers)
    question = question_of(store, considered, claim.recording_id)
    beside = store.neighbours(question) if question else ()
    considered = placed(considered, question, beside, out_to(store, question), tools, waived)
    considered = compared(considered, earlier_of(store, considered, claim.recording_id))
    considered = held_for_review(considered, tools, claim.waivers)
    return _Looked(
        considered=considered,
        known=known,
        again=again,
        withdrawn=withdrawn,
        question=question,
        beside=tuple(beside),
    )
