"""What to ask a server about our own resources, and which of them its answers hold."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gateway.fhir.address import LINK, own_identifier
from gateway.fhir.content import Rank, Resource
from gateway.fhir.identity import SYSTEM
from gateway.model import Filed


@dataclass(frozen=True, slots=True)
class Search:
    """One search by opaque identifiers only: resource type and parameters, not yet percent-encoded."""

    type: str
    parameters: tuple[tuple[str, str], ...]


def searches(resources: Sequence[Resource], ledger: Mapping[str, Filed]) -> tuple[Search, ...]:
    """The fewest searches that find whatever a server holds of these resources.

    Everything of the recording by the recording's identifier, one search per type; devices by their own. R4's
    Provenance has no identifier: it is asked for by its target once that is known, else it cannot be there yet.
    """
    wanted: dict[Search, None] = {}
    for resource in resources:
        for value in _asked_by(resource):
            wanted[Search(resource.type, (("identifier", f"{SYSTEM}|{value}"),))] = None
        if resource.rank is Rank.PROVENANCE:
            for target in _known_targets(resource, ledger):
                wanted[Search(resource.type, (("target", target),))] = None
    return tuple(wanted)


def found(
    resources: Sequence[Resource], bodies: Iterable[Mapping[str, Any]]
) -> dict[str, tuple[Mapping[str, Any], ...]]:
    """The server's copies of our resources by our id; more than one copy of an id is a conflict for the caller."""
    marks = {(resource.type, LINK + resource.id): resource.id for resource in resources}
    copies: dict[str, list[Mapping[str, Any]]] = {}
    for body in bodies:
        kind = str(body.get("resourceType"))
        for ours in {marks[kind, mark] for mark in _marks(body) if (kind, mark) in marks}:
            copies.setdefault(ours, []).append(body)
    return {resource_id: tuple(items) for resource_id, items in copies.items()}


def _asked_by(resource: Resource) -> Iterable[str]:
    own = own_identifier(resource)
    if own is None:
        return ()
    others = [
        item["value"] for item in resource.body["identifier"] if item["system"] == SYSTEM and item["value"] != own
    ]
    return others[:1] or (own,)


def _known_targets(resource: Resource, ledger: Mapping[str, Filed]) -> Iterable[str]:
    """One target is enough, and the report is the last of them to be written."""
    known = [
        f"{filed.resource_type}/{filed.server_id}"
        for target in resource.body.get("target", ())
        if (filed := ledger.get(str(target.get("reference", "")).removeprefix(LINK)))
    ]
    return known[:1]


def _marks(body: Mapping[str, Any]) -> set[str]:
    meta = body.get("meta")
    tags = meta.get("tag", ()) if isinstance(meta, Mapping) else ()
    identifiers = body.get("identifier", ())
    pairs = [(item, "value") for item in _mappings(identifiers)] + [(item, "code") for item in _mappings(tags)]
    return {str(item.get(key)) for item, key in pairs if item.get("system") == SYSTEM}


def _mappings(value: object) -> list[Mapping[str, Any]]:
    return [item for item in value if isinstance(item, Mapping)] if isinstance(value, list | tuple) else []
