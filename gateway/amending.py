"""A named person changes what was filed: takes it back, has it made anew, signs it off; and what is sent then."""

from dataclasses import dataclass
from datetime import datetime

from gateway import fhir
from gateway.analyse.differing import differences
from gateway.correcting import NewResult, changes_values, deliveries, is_signed
from gateway.enclosing import enclosed
from gateway.errors import ContentFault
from gateway.intake import Tools, consider
from gateway.model import EventKind, Hold, RecordingState, Waiver
from gateway.model.changes import Changes
from gateway.model.plain import plain_json
from gateway.report import Letterhead, ReportError, render_notice
from gateway.reviewing import SIGN_OFF_RULE
from gateway.store import Decided, Decider, NewDelivery, NotPossible, Renewed, Standing, Store
from gateway.validate.known import instants_of

_NOT_FILED = NotPossible(
    "Nothing of this recording was filed, so there is nothing to correct; `status` says where it is."
)
_HELD = NotPossible("This recording is worked on or held; `status` says where it is.")
_MOVED_ON = NotPossible(
    "By the rules of now its result would differ from the one that is filed; look at `reprocess --dry-run` first."
)


def retract(store: Store, tools: Tools, recording_id: str, by: str, why: str, now: datetime) -> Decided | NotPossible:
    """A named person takes a recording back, wherever it was filed; what was not sent yet is cancelled.

    The withdrawal is sent like any delivery, in its turn. Raises StoreError for an unknown id, ContentFault.
    """
    recording_id = store.counting(recording_id)
    while (standing := store.standing(recording_id)) is not None:
        identity = fhir.Identity(store.key, standing.key)
        content = {
            each.destination: withdrawal_of(each.content, identity, tools, now)
            for each in standing.latest
            if each.in_record
        }
        decided = store.withdraw(recording_id, standing, content, by, why, now)
        if decided is not None:  # else something was filed meanwhile
            return decided
    return NotPossible("Nothing of this recording was filed or waits to be; what is held is refused, not retracted.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Anew:
    """A filed recording, made anew from its original file by the mappings, guideline and settings of now. `sent` is
    empty where no record would change.
    """

    recording_id: str
    standing: Standing
    changes: Changes
    renewed: Renewed

    @property
    def sent(self) -> tuple[NewDelivery, ...]:
        """What would go to each destination."""
        return self.renewed.deliveries


def made_anew(store: Store, tools: Tools, recording_id: str, now: datetime) -> Anew | Hold | NotPossible:
    """What `reprocess` would do; nothing is changed. A hold: by the rules of now it would not be filed, and what is
    filed stays as it is. Raises StoreError for an unknown id, ContentFault.
    """
    return _anew(store, tools, recording_id, None, now)


def reprocess(store: Store, anew: Anew, by: str, why: str, now: datetime) -> Decided | NotPossible:
    """A named person, who saw the differences, puts the new result in place of the filed one. It is sent like any
    delivery, in its turn, and nobody has reviewed it yet.
    """
    who = Decider(by=by, why=why)
    decided = store.renew(anew.recording_id, anew.standing, anew.renewed, who, EventKind.CORRECTED, now)
    return decided or NotPossible("Something of it was sent meanwhile; look at the differences again.")


def sign_off(
    store: Store, tools: Tools, recording_id: str, by: str, why: str, now: datetime
) -> Decided | NotPossible:
    """A clinician signs off the result that is filed: the report becomes final and names who did. No number changes;
    where the rules of now would change one, it is not possible. Raises StoreError for an unknown id, ContentFault.
    """
    signed = Waiver(rule=SIGN_OFF_RULE, by=by, why=why, at=now)
    while True:
        anew = _anew(store, tools, recording_id, signed, now)
        if isinstance(anew, Hold):
            return _MOVED_ON
        if isinstance(anew, NotPossible):
            return anew
        if not anew.changes.nothing or any(changes_values(each) for each in anew.sent):
            return _MOVED_ON
        if not anew.sent or is_signed(anew.standing):
            return NotPossible("This result is signed off already, or filed without a report.")
        who = Decider(by=by, why=why)
        decided = store.renew(anew.recording_id, anew.standing, anew.renewed, who, EventKind.SIGNED_OFF, now)
        if decided is not None:  # else something was sent meanwhile
            return decided


def _anew(
    store: Store, tools: Tools, recording_id: str, signed: Waiver | None, now: datetime
) -> Anew | Hold | NotPossible:
    recording_id = store.counting(recording_id)
    original, standing = store.to_work_again(recording_id), store.standing(recording_id)
    if original.state is not RecordingState.READY:
        return _HELD
    if standing is None or original.facts is None:
        return _NOT_FILED
    waived = frozenset(waiver.rule for waiver in original.waivers)
    considered = consider(original.content, original.name, tools, now, waived, original.given)
    considered = enclosed(considered, original.companion, tools)
    if considered.hold is not None:
        return considered.hold
    recording = considered.ready
    facts = plain_json(considered.facts)
    changes = differences(original.facts, facts)
    result = NewResult(
        considered=considered,
        tools=tools,
        identity=fhir.Identity(store.key, standing.key),
        gone=None if signed is None else frozenset(),
        amends=changes.guideline and not (changes.added or changes.removed or changes.changed),
        signed=signed,
        only_prints=signed is not None or not changes.nothing,
    )
    renewed = Renewed(
        facts=facts,
        began=recording.began,
        ended=recording.ended,
        instants=instants_of(recording),
        deliveries=tuple(deliveries(standing, result, now)),
    )
    return Anew(recording_id=recording_id, standing=standing, changes=changes, renewed=renewed)


def withdrawal_of(content: bytes, identity: fhir.Identity, tools: Tools, now: datetime) -> bytes:
    """What takes back a delivery with this content: everything of it entered in error, the notice in place of the
    report. Raises ContentFault.
    """
    parcel = fhir.unpack(content)
    at = now.astimezone(parcel.ended.tzinfo).replace(microsecond=0)
    notice = fhir.Notice(at=at, page=_page(parcel, at, tools.letterhead), language=tools.language)
    # devices stay as they are; they go along only for a destination that takes whole bundles
    devices = tuple(item for item in parcel.resources if item.rank is fhir.Rank.DEVICE)
    gone = fhir.withdraw(parcel.resources, identity, tools.codes, notice)
    resources = tuple(sorted((*devices, *gone), key=lambda item: item.rank))
    beside = frozenset(resource.id for resource in parcel.resources) | {identity.device("gateway", "gateway")}
    if faults := fhir.check(resources, tools.codes, beside):
        raise ContentFault(faults)
    return fhir.pack(fhir.Parcel(person=parcel.person, ended=parcel.ended, resources=resources))


def _page(parcel: fhir.Parcel, at: datetime, letterhead: Letterhead) -> bytes | None:
    """The printed notice. One that cannot be drawn never keeps a withdrawal from happening."""
    try:
        return render_notice(fhir.began(parcel), parcel.ended, at, letterhead)
    except ReportError:
        return None
