"""T2: what a received file comes to, beside all that the store holds: held, ready, or a correction."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from gateway import fhir
from gateway.correcting import Again, Wanted, deliveries
from gateway.enclosing import enclosed
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
from gateway.model import Act, EventKind, Recording, Waiver
from gateway.model.plain import plain_json
from gateway.placing import out_to, placed, question_of
from gateway.recalling import (
    again_of,
    earlier_of,
    hold_if_withdrawn,
    known_of,
    person_key,
    withdrawn_of,
)
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


def settle(store: Store, claim: IntakeClaim, tools: Tools, now: datetime) -> ReadyIntake | HeldIntake:
    """Read, validated, analysed, compared with what is known, composed. Raises ContentFault, StoreError."""
    looked = _looked_at(store, claim, tools, now)
    considered = looked.considered
    if considered.hold is not None or considered.recording is None:
        facts, told = plain_json(considered.facts), ((EventKind.READ, how_read(considered)),)
        assert considered.hold is not None  # noqa: S101  (what was not read is held)
        return HeldIntake(hold=considered.hold, facts=facts, events=told)
    signed = signature(claim.waivers) if tools.sign_off_first else None
    if looked.again is not None:
        return _corrected(store, looked, considered.recording, looked.again, tools, signed, now)
    return _new(store, claim, looked, considered.recording, tools, signed, now)


def _new(
    store: Store,
    claim: IntakeClaim,
    looked: "_Looked",
    recording: Recording,
    tools: Tools,
    signed: Waiver | None,
    now: datetime,
) -> ReadyIntake:
    considered = looked.considered
    made = make(considered, tools, now, signed)
    issue = max(claim.issue, *(each.issue for each in looked.withdrawn), 1)
    key = key_of(recording, store.key, issue)
    identity = fhir.Identity(store.key, key)
    taken = [route for route, kept_back in where_to(considered, tools) if kept_back is None]
    parcels = [(route, parcel_for(route, made, identity, tools, now)) for route in taken]
    new = tuple(
        NewDelivery(destination=route.filing.destination, act=Act.FILE, content=fhir.pack(parcel))
        for route, parcel in parcels
    )
    told = ((EventKind.READ, _told(considered, made, parcels, tools)),)
    return _ready(store, looked, recording, key, issue, told, new, None)


def _corrected(
    store: Store,
    looked: "_Looked",
    recording: Recording,
    again: Again,
    tools: Tools,
    signed: Waiver | None,
    now: datetime,
) -> ReadyIntake:
    """Another file of a recording that is filed: it keeps the key, and only differences are sent."""
    identity = fhir.Identity(store.key, again.standing.key)
    gone = again.changes.gone
    wanted = Wanted(considered=looked.considered, tools=tools, identity=identity, gone=gone, signed=signed)
    new = () if again.changes.nothing else tuple(deliveries(again.standing, wanted, now))
    corrects = Correcting(recording_id=again.known.recording_id, standing=again.standing, counts=bool(new))
    said: dict[str, object] = {"corrects" if new else "adds_nothing_to": again.known.recording_id[:8]}
    changed = {} if again.changes.nothing else {"differences": again.changes.counted}
    told = ((EventKind.READ, how_read(looked.considered) | said | changed),)
    return _ready(store, looked, recording, again.standing.key, again.known.issue, told, new, corrects)


def _ready(
    store: Store,
    looked: "_Looked",
    recording: Recording,
    key: str,
    issue: int,
    events: tuple[tuple[EventKind, dict[str, object]], ...],
    new: tuple[NewDelivery, ...],
    corrects: Correcting | None,
) -> ReadyIntake:
    return ReadyIntake(
        key=key,
        person_key=person_key(store, looked.considered),
        serial=recording.monitor.serial or (looked.again.known.serial if looked.again else None),
        began=recording.began,
        ended=recording.ended,
        instants=instants_of(recording),
        facts=plain_json(looked.considered.facts),
        events=events,
        deliveries=new,
        known=frozenset(each.recording_id for each in looked.known),
        question=looked.question,
        beside=frozenset(each.recording_id for each in looked.beside),
        issue=issue,
        corrects=corrects,
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


def _told(
    considered: Considered, made: Made, parcels: Sequence[tuple[Route, fhir.Parcel]], tools: Tools
) -> dict[str, object]:
    """What the audit log keeps of the way from file to results: counts and codes only."""
    left = {route.filing.destination: left_unclaimed(route, parcel, tools) for route, parcel in parcels}
    unclaimed = {name: list(texts) for name, texts in left.items() if texts}
    found = how_read(considered) | how_made(made) | how_routed(considered, tools)
    return found | ({"unclaimed": unclaimed} if unclaimed else {})
