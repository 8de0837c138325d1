"""Neutral resources + what one server holds and says -> the transaction Bundles that are sent to it.

`next_part` is called again after every part, with the ledger as it stands by then:

    while part := next_part(resources, link, way, ledger, …):
        post part.content, check the answer entry by entry, add the rows to the ledger

It carries no state of its own, so a delivery that was cut off goes on where the ledger ends, and server-assigned
ids of one part are known in the next. A resource whose content is in the ledger already is not sent; None means
that everything is filed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from gateway.fhir.answers import Capabilities
from gateway.fhir.content import Rank, Resource, content_hash, written
from gateway.fhir.identity import SYSTEM
from gateway.model import Filed, Identifier, Way

LINK = "urn:uuid:"
ENVELOPE = 64
"""bytes of a Bundle around its entries"""


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientLink:
    """How this destination knows the person: its own Patient ("Patient/123"), or only a number of its own system.

    Neither given: the number in the file stands.
    """

    reference: str | None = None
    identifier: Identifier | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of a part. `conditional`: an answer 200 means that it "existed already", so read and compare.

    `server_id` is the id it is written to, None where the server will give one.
    """

    resource: Resource
    body: Mapping[str, Any]
    method: str
    conditional: bool
    server_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One transaction. A good answer is a transaction-response with one 200 or 201 for each entry, in order.

    `report_left_out`: the printed report alone is larger than the server takes, so only its size and hash go.
    `too_large`: even one entry alone is larger than the server takes.
    """

    bundle: Mapping[str, Any]
    content: bytes
    entries: tuple[Entry, ...]
    report_left_out: bool = False
    too_large: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Where the resources of one parcel are, or will be, on one server."""

    link: PatientLink
    way: Way
    ledger: Mapping[str, Filed]
    kinds: Mapping[str, str]
    """resource type of each of our ids"""

    def body(self, resource: Resource) -> dict[str, Any]:
        """The resource as this server should hold it: real subject, real links as far as they are known."""
        body = {key: self._linked(value) for key, value in resource.body.items()}
        if (server_id := self.server_id(resource)) is None:
            del body["id"]  # some servers refuse a POST that brings an id
        else:
            body["id"] = server_id
        return body

    def server_id(self, resource: Resource) -> str | None:
        """The id on the server, None while it has none."""
        if filed := self.ledger.get(resource.id):
            return filed.server_id
        return resource.id if self.way is Way.PUT else None

    def _linked(self, value: Any) -> Any:
        if isinstance(value, Mapping):
            if value.get("type") == "Patient" and "identifier" in value:
                return self._subject(value)
            linked = {key: self._linked(item) for key, item in value.items()}
            if isinstance(reference := value.get("reference"), str):
                linked["reference"] = self._reference(reference)
            return linked
        if isinstance(value, list | tuple):
            return [self._linked(item) for item in value]
        return value

    def _reference(self, reference: str) -> str:
        ours = reference.removeprefix(LINK)
        if not reference.startswith(LINK) or ours not in self.kinds:
            return reference
        if filed := self.ledger.get(ours):
            return f"{filed.resource_type}/{filed.server_id}"
        return f"{self.kinds[ours]}/{ours}" if self.way is Way.PUT else reference

    def _subject(self, neutral: Mapping[str, Any]) -> dict[str, Any]:
        if self.link.reference:
            return {"reference": self.link.reference, "type": "Patient"}
        if number := self.link.identifier:
            return {**neutral, "identifier": {"system": number.system, "value": number.value}}
        return dict(neutral)


def address_of(resources: Sequence[Resource], link: PatientLink, way: Way, ledger: Mapping[str, Filed]) -> Address:
    """The address of a parcel as the ledger stands now."""
    return Address(link=link, way=way, ledger=ledger, kinds={item.id: item.type for item in resources})


def next_part(
    resources: Sequence[Resource],
    link: PatientLink,
    way: Way,
    ledger: Mapping[str, Filed],
    most_entries: int | None = None,
    most_bytes: int | None = None,
) -> Part | None:
    """The next transaction to send, None when the ledger holds everything.

    Order: devices (alone), readings, summaries, report, Provenance. Links only point back in that order, and a part
    is always a run of it, so nothing refers to what is not stored yet.
    """
    missing = sorted((item for item in resources if not is_filed(item, ledger)), key=lambda item: item.rank)
    if not missing:
        return None
    if missing[0].rank is Rank.DEVICE:
        missing = [item for item in missing if item.rank is Rank.DEVICE]
    address = address_of(resources, link, way, ledger)
    return _part(_that_fit([_entry(item, address) for item in missing], most_entries, most_bytes), most_bytes)


def is_filed(resource: Resource, ledger: Mapping[str, Filed]) -> bool:
    """Does the ledger hold this very content?"""
    filed = ledger.get(resource.id)
    return filed is not None and filed.content_hash == content_hash(resource)


def filed_as(resource: Resource, server_id: str, version: str | None) -> Filed:
    """The ledger row of a resource that a server holds."""
    return Filed(
        resource_id=resource.id,
        resource_type=resource.type,
        server_id=server_id,
        version=version,
        content_hash=content_hash(resource),
        status=str(resource.body.get("status", "")),
    )


def best_way(capabilities: Capabilities, types: frozenset[str]) -> Way | None:
    """The safest way of writing that a server declares for these types; None: it cannot take them safely."""
    if not (capabilities.speaks_r4 and capabilities.transaction):
        return None
    if types <= capabilities.update_create:
        return Way.PUT
    if types <= capabilities.conditional_create:
        return Way.CONDITIONAL
    asked = types - {"Provenance"}
    if all("identifier" in capabilities.searches.get(kind, frozenset()) for kind in asked):
        return Way.SEARCH_FIRST
    return None


def _entry(resource: Resource, address: Address) -> tuple[Entry, dict[str, Any]]:
    body = address.body(resource)
    server_id = address.server_id(resource)
    filed = address.ledger.get(resource.id)
    request: dict[str, Any] = {"method": "PUT", "url": f"{resource.type}/{server_id}"}
    if filed and filed.version:
        request["ifMatch"] = f'W/"{filed.version}"'
    if server_id is None:
        request = {"method": "POST", "url": resource.type}
        if address.way is Way.CONDITIONAL:
            request["ifNoneExist"] = _only_if_new(resource)
    entry = Entry(
        resource=resource,
        body=body,
        method=request["method"],
        conditional="ifNoneExist" in request,
        server_id=server_id,
    )
    return entry, {"fullUrl": LINK + resource.id, "resource": body, "request": request}


def own_identifier(resource: Resource) -> str | None:
    """The resource's own `urn:uuid:` value among its identifiers, None for one that has none (Provenance)."""
    values = [item["value"] for item in resource.body.get("identifier", ()) if item.get("system") == SYSTEM]
    return LINK + resource.id if LINK + resource.id in values else None


def _only_if_new(resource: Resource) -> str:
    name = "identifier" if own_identifier(resource) else "_tag"
    return f"{name}={quote(f'{SYSTEM}|{LINK}{resource.id}', safe='')}"


Made = tuple[Entry, dict[str, Any]]


def _that_fit(made: Sequence[Made], most_entries: int | None, most_bytes: int | None) -> list[Made]:
    fitting: list[Made] = []
    size = ENVELOPE
    for item in made[:most_entries]:
        size += len(written(item[1])) + 1
        if fitting and most_bytes is not None and size > most_bytes:
            break
        fitting.append(item)
    return fitting


def _part(made: Sequence[Made], most_bytes: int | None) -> Part:
    left_out = False
    bundle = _transaction(made)
    content = written(bundle)
    if most_bytes is not None and len(content) > most_bytes and made[0][0].resource.rank is Rank.REPORT:
        made = [_without_print(item) for item in made]
        bundle, left_out = _transaction(made), True
        content = written(bundle)
    return Part(
        bundle=bundle,
        content=content,
        entries=tuple(entry for entry, _ in made),
        report_left_out=left_out,
        too_large=most_bytes is not None and len(content) > most_bytes,
    )


def _transaction(made: Sequence[Made]) -> dict[str, Any]:
    return {"resourceType": "Bundle", "type": "transaction", "entry": [written_entry for _, written_entry in made]}


def _without_print(made: Made) -> Made:
    entry, written_entry = made
    body = _stripped(entry.body)
    return (
        Entry(
            resource=entry.resource,
            body=body,
            method=entry.method,
            conditional=entry.conditional,
            server_id=entry.server_id,
        ),
        {**written_entry, "resource": body},
    )


def _stripped(value: Any) -> Any:
    """Without attachment data; size and hash stay, so that the reader sees what is missing."""
    if isinstance(value, Mapping):
        keep = {key: _stripped(item) for key, item in value.items()}
        if value.get("contentType") == "application/pdf":
            keep.pop("data", None)
        return keep
    return [_stripped(item) for item in value] if isinstance(value, list | tuple) else value
