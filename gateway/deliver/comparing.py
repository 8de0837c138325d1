"""Is everything that was filed still there, once, and does it still say what was filed? Nothing is written."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gateway import fhir
from gateway.deliver.talk import GONE, Talk
from gateway.fhir.copies import differences
from gateway.model import Filed, Way
from gateway.model.reconciled import Difference, Fault

Body = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What a server should hold of one recording. `report_left_out`: a person let it go without the print.
    `order`: as in `fhir.PatientLink`.
    """

    resources: tuple[fhir.Resource, ...]
    way: Way
    ledger: Mapping[str, Filed]
    report_left_out: bool = False
    order: str | None = None


def compared(talk: Talk, link: fhir.PatientLink, kept: Kept) -> Iterator[Difference]:
    """Every difference, in the order of the resources; what is foreign last. Raises Stopped."""
    bodies = _under_our_numbers(talk, kept)
    copies = fhir.found(kept.resources, bodies.values())
    address = fhir.address_of(kept.resources, link, kept.way, kept.ledger)
    known: set[tuple[str, str]] = set()
    for resource in kept.resources:
        row = kept.ledger.get(resource.id)
        there = {str(body.get("id")): body for body in copies.get(resource.id, ())}
        if not there and row and (body := talk.read(f"{row.resource_type}/{row.server_id}", GONE)):
            there = {row.server_id: body}
        known |= {(resource.type, server_id) for server_id in there}
        yield from _of_one(resource, row, there, address.body(resource), kept.report_left_out)
    for place in sorted(bodies.keys() - known):
        yield Difference(fault=Fault.FOREIGN, type=place[0], server_ids=(place[1],))


def _of_one(
    resource: fhir.Resource, row: Filed | None, there: Mapping[str, Body], ours: dict[str, Any], without_print: bool
) -> Iterator[Difference]:
    def found(fault: Fault, what: str = "") -> Difference:
        return Difference(
            fault=fault, type=resource.type, resource_id=resource.id, server_ids=tuple(sorted(there)), what=what
        )

    if not there or row is None:
        yield found(Fault.MISSING)
        return
    if len(there) > 1:
        yield found(Fault.DOUBLED)
    body = there.get(row.server_id)
    if body is None:
        yield found(Fault.CHANGED, "lies under another id than was filed")
    elif not fhir.is_filed(resource, {resource.id: row}):
        return  # a monitor that another recording described anew since
    elif places := differences(_no_print(ours) if without_print else ours, body):
        yield found(Fault.CHANGED, ", ".join(places[:5]))


def _under_our_numbers(talk: Talk, kept: Kept) -> dict[tuple[str, str], Body]:
    """Everything that the server finds by the recording's identifier, by our devices' own, and by our report."""
    searches = fhir.searches(kept.resources, kept.ledger)
    bodies = [body for search in searches for body in talk.search(search)]
    return {(str(body.get("resourceType")), str(body.get("id"))): body for body in bodies}


def relinked(resources: Sequence[fhir.Resource], missing: frozenset[str]) -> frozenset[str]:
    """Our ids of resources that link to a missing one: where the server gives a new id, they must say it."""
    return frozenset(
        resource.id
        for resource in resources
        if resource.id not in missing and any(each in fhir.written(resource.body).decode() for each in missing)
    )


def _no_print(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _no_print(item) for key, item in value.items() if key != "data"}
    return [_no_print(item) for item in value] if isinstance(value, list | tuple) else value
