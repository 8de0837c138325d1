"""The ledger beside what a server holds, recording by recording; and what is missing is sent once more."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime

from gateway import fhir
from gateway.deliver import Kept, Server
from gateway.deliver.comparing import relinked
from gateway.deliver.filing import REPORT_RULE
from gateway.deliver.ordering import as_linked
from gateway.model import Act, TryLater, Way
from gateway.model.reconciled import Difference, Fault
from gateway.store import DoneDelivery, Store

CORRECTED = "it was corrected or withdrawn since, so nothing is sent again by itself"


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One recording at one destination. `sent_again`: it was put into the queue once more; `repaired`: what is there
    again since; `not_sent`: why it is not.
    """

    recording_id: str
    entries: int
    differences: tuple[Difference, ...]
    repaired: tuple[Difference, ...] = ()
    sent_again: bool = False
    not_sent: str = ""


@dataclass(slots=True, kw_only=True)
class Reconciled:
    """One destination. `unreachable`: why it could not be asked to the end, "" when it was."""

    destination: str
    recordings: int = 0
    entries: int = 0
    unreachable: str = ""
    found: list[Compared] = field(default_factory=list)


def reconcile(store: Store, server: Server, since: datetime, repair: bool, actor: str, now: datetime) -> Reconciled:
    """Compare everything that was delivered there since then. `repair`: put what misses entries into the queue."""
    told = Reconciled(destination=server.destination.name)
    for recording_id in store.done_since(told.destination, since):
        compared = look(store, server, recording_id)
        if isinstance(compared, TryLater):
            told.unreachable = compared.why
            return told
        if repair and any(each.fault is Fault.MISSING for each in compared.differences):
            compared = _send_again(store, told.destination, compared, actor, now)
        told.recordings += 1
        told.entries += compared.entries
        if compared.differences:
            told.found.append(compared)
    return told


def look(store: Store, server: Server, recording_id: str) -> Compared | TryLater:
    """Compare one recording."""
    finished = store.done(server.destination.name, recording_id)
    latest = tuple(_latest(finished))
    ledger = store.ledger(server.destination.name, [item.id for item in latest])
    resources = tuple(item for item in latest if item.body.get("status") not in fhir.ENDED or item.id in ledger)
    waived = frozenset(waiver.rule for each in finished for waiver in each.waivers)
    kept = Kept(
        resources=resources,
        way=next((each.way for each in reversed(finished) if each.way), Way.PUT),
        ledger=ledger,
        report_left_out=REPORT_RULE in waived,
        order=_order(finished),
    )
    parcel = fhir.unpack(finished[-1].content)
    found = server.compare(parcel, kept, waived)
    if isinstance(found, TryLater):
        return found
    return Compared(recording_id=recording_id, entries=len(resources), differences=found)


def _order(finished: tuple[DoneDelivery, ...]) -> str | None:
    """As it was written last; what is withdrawn is no order's result any more."""
    if finished[-1].act is Act.WITHDRAW:
        return None
    return as_linked(next((each.based_on for each in reversed(finished) if each.based_on is not None), None))


def _latest(finished: tuple[DoneDelivery, ...]) -> Iterator[fhir.Resource]:
    """Each resource as it was sent last."""
    latest = {item.id: item for each in finished for item in fhir.unpack(each.content).resources}
    yield from sorted(latest.values(), key=lambda item: item.rank)


def _send_again(store: Store, destination: str, compared: Compared, actor: str, now: datetime) -> Compared:
    finished = store.done(destination, compared.recording_id)
    missing = frozenset(each.resource_id for each in compared.differences if each.fault is Fault.MISSING)
    if len(finished) != 1 or finished[0].act is not Act.FILE:
        return replace(compared, not_sent=CORRECTED)
    resources = fhir.unpack(finished[0].content).resources
    # under our own id a resource comes back where it was; elsewhere whoever links to it must learn its new id
    linked = frozenset[str]() if finished[0].way is Way.PUT else relinked(resources, missing)
    sent = store.send_again(finished[0].delivery_id, missing, linked, now, actor)
    return replace(compared, sent_again=sent)
