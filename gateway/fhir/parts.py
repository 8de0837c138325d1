"""Neutral resources + what one server holds and says -> the transaction Bundles that are sent to it.

`next_part` is called again after every part, with the ledger as it stands by then:

    while part := next_part(resources, link, way, ledger, …):
        post part.content, check the answer entry by entry, add the rows to the ledger

It carries no state of its own, so a delivery that was cut off goes on where the ledger ends, and server-assigned
ids of one part are known in the next. A resource whose content is in the ledger already is not sent; None means
that everything is filed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import quote

from gateway.fhir.address import LINK, Address, PatientLink, address_of, is_filed, own_identifier
from gateway.fhir.content import Rank, Resource, written
from gateway.fhir.identity import SYSTEM
from gateway.model import Filed, Way

ENVELOPE = 64
"""bytes of a Bundle around its entries"""


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
    """One transaction (or batch). A good answer is a response bundle with one 200 or 201 for each entry, in order.

    `report_left_out`: the printed report alone is larger than the server takes, so only its size and hash go.
    `too_large`: even one entry alone is larger than the server takes.
    """

    bundle: Mapping[str, Any]
    content: bytes
    entries: tuple[Entry, ...]
    report_left_out: bool = False
    too_large: bool = False


def next_part(
    resources: Sequence[Resource],
    link: PatientLink,
    way: Way,
    ledger: Mapping[str, Filed],
    most_entries: int | None = None,
    most_bytes: int | None = None,
    *,
    tags: bool = True,
    batch: bool = False,
) -> Part | None:
    """The next part to send, None when the ledger holds everything.

    Order: devices (alone), readings, summaries, report, Provenance. Links only point back in that order, and a part
    is always a run of it, so nothing refers to what is not stored yet.

    `tags` false: the server does not find a Provenance by its tag, so conditional create has nothing to go by; it
    then comes alone and unconditionally, and the caller asks for it by its target first. `batch`: the entries are
    written in any order or not at all, so none may refer to another of its part.
    """
    missing = sorted((item for item in resources if not is_filed(item, ledger)), key=lambda item: item.rank)
    if not missing:
        return None
    if missing[0].rank is Rank.DEVICE:
        missing = [item for item in missing if item.rank is Rank.DEVICE]
    elif way is Way.CONDITIONAL and not tags:
        missing = [item for item in missing if item.rank is not Rank.PROVENANCE] or missing[:1]
    address = address_of(resources, link, way, ledger)
    made = _that_fit([_entry(item, address, tags) for item in missing], most_entries, most_bytes)
    return _part(_without_links(made) if batch else made, most_bytes, "batch" if batch else "transaction")


def is_print(resource: Resource) -> bool:
    """May it hold the printed page, which can be left out at need?"""
    return resource.rank is Rank.REPORT or resource.type == "Binary"


def _entry(resource: Resource, address: Address, tags: bool) -> tuple[Entry, dict[str, Any]]:
    body = address.body(resource)
    server_id = address.server_id(resource)
    filed = address.ledger.get(resource.id)
    request: dict[str, Any] = {"method": "PUT", "url": f"{resource.type}/{server_id}"}
    if filed and filed.version:
        request["ifMatch"] = f'W/"{filed.version}"'
    if server_id is None:
        request = {"method": "POST", "url": resource.type}
        if address.way is Way.CONDITIONAL and (tags or own_identifier(resource)):
            request["ifNoneExist"] = _only_if_new(resource)
    entry = Entry(
        resource=resource,
        body=body,
        method=request["method"],
        conditional="ifNoneExist" in request,
        server_id=server_id,
    )
    return entry, {"fullUrl": LINK + resource.id, "resource": body, "request": request}


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


def _without_links(made: Sequence[Made]) -> list[Made]:
    """The longest beginning in which no entry refers to an earlier one."""
    alone: list[Made] = []
    names: list[bytes] = []
    for entry, written_entry in made:
        content = written(entry.body)
        if any(name in content for name in names):
            break
        alone.append((entry, written_entry))
        names += [f'"{LINK}{entry.resource.id}"'.encode(), f'"{entry.resource.type}/{entry.server_id}"'.encode()]
    return alone


def _part(made: Sequence[Made], most_bytes: int | None, kind: str) -> Part:
    left_out = False
    bundle = _bundle(made, kind)
    content = written(bundle)
    if most_bytes is not None and len(content) > most_bytes and is_print(made[0][0].resource):
        made = [_without_print(item) for item in made]
        bundle, left_out = _bundle(made, kind), True
        content = written(bundle)
    return Part(
        bundle=bundle,
        content=content,
        entries=tuple(entry for entry, _ in made),
        report_left_out=left_out,
        too_large=most_bytes is not None and len(content) > most_bytes,
    )


def _bundle(made: Sequence[Made], kind: str) -> dict[str, Any]:
    return {"resourceType": "Bundle", "type": kind, "entry": [written_entry for _, written_entry in made]}


def _without_print(made: Made) -> Made:
    entry, written_entry = made
    body = _stripped(entry.body)
    return replace(entry, body=body), {**written_entry, "resource": body}


def _stripped(value: Any) -> Any:
    """Without attachment data; size and hash stay, so that the reader sees what is missing."""
    if isinstance(value, Mapping):
        keep = {key: _stripped(item) for key, item in value.items()}
        if value.get("contentType") == "application/pdf":
            keep.pop("data", None)
        return keep
    return [_stripped(item) for item in value] if isinstance(value, list | tuple) else value
