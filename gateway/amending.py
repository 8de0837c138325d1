"""A named person takes back what was filed, and what goes into the records then."""

from datetime import datetime

from gateway import fhir
from gateway.errors import ContentFault
from gateway.intake import Tools
from gateway.report import Letterhead, ReportError, render_notice
from gateway.store import Decided, NotPossible, Store


def retract(store: Store, tools: Tools, recording_id: str, by: str, why: str, now: datetime) -> Decided | NotPossible:
    """A named person takes a recording back, wherever it was filed; what was not sent yet is cancelled.

    The withdrawal is sent like any delivery, in its turn. Raises StoreError for an unknown id, ContentFault.
    """
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
