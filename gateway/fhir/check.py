"""What must hold before anything is queued, and again before it is sent."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from gateway.fhir.content import Resource
from gateway.fhir.rules.coding import Approved, Spellings, coding_faults
from gateway.fhir.rules.models import model_faults
from gateway.fhir.rules.observations import observation_faults
from gateway.fhir.rules.parcels import parcel_faults
from gateway.fhir.rules.shapes import LINK, RELATIVE, shape_faults
from gateway.fhir.rules.statuses import type_faults
from gateway.fhir.rules.walking import Fault, Node, mappings, walk
from gateway.mapping.codes import Codes

Walked = tuple[Mapping[str, Any], Sequence[Node]]
"""An entry of a bundle and every node of its resource."""

METHODS = frozenset({"PUT", "POST"})


def check(resources: Sequence[Resource], codes: Codes, beside: frozenset[str] = frozenset()) -> tuple[str, ...]:
    """Every fault of destination-neutral resources as "Type/id: element: what"; empty when all hold.

    `beside` are ids of ours that the record holds already, so that a change may lead to them.
    """
    if not resources:
        return ("nothing: : there is nothing to file",)
    approved, spellings = codes.approved(), codes.spellings()
    walked = [(resource, walk(resource.body)) for resource in resources]
    found = [
        (resource, fault)
        for resource, nodes in walked
        for fault in _faults(resource.body, nodes, approved, spellings)
    ]
    found += parcel_faults(walked, beside)
    return tuple(f"{resource.type}/{resource.id}: {fault.path}: {fault.what}" for resource, fault in found)


def check_bundle(bundle: Mapping[str, Any], codes: Codes) -> tuple[str, ...]:
    """Every fault of a transaction that is about to be sent, as "entry[n]: element: what"; empty when all hold."""
    approved, spellings = codes.approved(), codes.spellings()
    entries = [(entry, walk(entry.get("resource"))) for entry in mappings(bundle.get("entry"))]
    found = [f"Bundle: {fault.path}: {fault.what}" for fault in _envelope_faults(bundle, entries)]
    for index, (entry, nodes) in enumerate(entries):
        found += [
            f"entry[{index}]: {fault.path}: {fault.what}"
            for fault in _entry_faults(entry, nodes, approved, spellings)
        ]
    return tuple(found)


def body_faults(body: Mapping[str, Any], approved: Approved, spellings: Spellings) -> Iterator[Fault]:
    """Every fault of one resource by itself."""
    return _faults(body, walk(body), approved, spellings)


def _faults(
    body: Mapping[str, Any], nodes: Sequence[Node], approved: Approved, spellings: Spellings
) -> Iterator[Fault]:
    yield from shape_faults(nodes)
    yield from type_faults(body)
    yield from observation_faults(body)
    yield from coding_faults(nodes, approved, spellings)
    yield from model_faults(body)


def _envelope_faults(bundle: Mapping[str, Any], entries: Sequence[Walked]) -> Iterator[Fault]:
    if bundle.get("resourceType") != "Bundle" or bundle.get("type") != "transaction":
        yield Fault("type", "is not a transaction")
    if "total" in bundle:
        yield Fault("total", "has no place in a transaction (bdl-1)")
    if not entries:
        yield Fault("entry", "is empty")
    urls = [str(entry.get("fullUrl")) for entry, _ in entries]
    if len(set(urls)) != len(urls):
        yield Fault("entry.fullUrl", "stands twice (bdl-7)")
    for index, (_, nodes) in enumerate(entries):
        for node in nodes:
            if node.name == "reference" and LINK.fullmatch(str(node.value)) and node.value not in urls:
                yield Fault(f"entry[{index}].{node.path}", "leads to nothing in this transaction")


def _entry_faults(
    entry: Mapping[str, Any], nodes: Sequence[Node], approved: Approved, spellings: Spellings
) -> Iterator[Fault]:
    resource, request = entry.get("resource"), entry.get("request")
    if not isinstance(resource, Mapping):
        yield Fault("resource", "is missing")
        return
    if not LINK.fullmatch(str(entry.get("fullUrl"))):
        yield Fault("fullUrl", "is not urn:uuid")
    yield from _request_faults(request, resource)
    # a new resource has no id here: the server gives it one
    yield from _faults(resource, nodes, approved, spellings)


def _request_faults(request: Any, resource: Mapping[str, Any]) -> Iterator[Fault]:
    if not isinstance(request, Mapping) or request.get("method") not in METHODS:
        yield Fault("request", "needs the method PUT or POST")
        return
    url, kind = str(request.get("url")), str(resource.get("resourceType"))
    if request["method"] == "PUT" and (not RELATIVE.fullmatch(url) or url != f"{kind}/{resource.get('id')}"):
        yield Fault("request.url", "is not where this resource belongs")
    if request["method"] == "POST" and (url != kind or "id" in resource):
        yield Fault("request.url", "must be the type alone, and the resource without an id")
