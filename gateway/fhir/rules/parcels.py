"""Rules on all resources of a recording together: ids once, links that lead somewhere, nothing before its time."""

from collections.abc import Iterator, Sequence

from gateway.fhir.content import Rank, Resource
from gateway.fhir.revision import revises
from gateway.fhir.rules.walking import Fault, Node

LINK = "urn:uuid:"
Link = tuple[str, str, str]
"""Name of the element that holds a link among our own resources, its path, the reference."""

TARGETS = {
    "device": {"Device"},
    "who": {"Device"},
    "derivedFrom": {"Observation"},
    "result": {"Observation"},
    "target": {"Observation", "DiagnosticReport", "DocumentReference", "Binary"},
    "presentedForm": {"Binary"},
    "attachment": {"Binary"},
}
"""To which types each link may lead (FHIR R4, as far as we use them)."""


def parcel_faults(
    walked: Sequence[tuple[Resource, Sequence[Node]]], beside: frozenset[str]
) -> Iterator[tuple[Resource, Fault]]:
    """Faults between resources, each given with its nodes. `beside`: ids of what the record holds already."""
    resources = [resource for resource, _ in walked]
    by_id: dict[str, Resource] = {}
    for resource in resources:
        if resource.id in by_id:
            yield resource, Fault("id", "stands twice")
        by_id[resource.id] = resource
    for resource, nodes in walked:
        links = list(_links(nodes))
        for name, path, reference in links:
            ours = reference.removeprefix(LINK)
            if ours not in by_id and ours in beside:
                continue
            for fault in _link(resource, name, path, by_id.get(ours)):
                yield resource, fault
        if resource.rank is Rank.PROVENANCE and not revises(resource):
            yield from _covered(resource, links, resources)
    ranks = [resource.rank for resource in resources]
    if ranks != sorted(ranks):
        yield resources[0], Fault("", "resources do not stand in the order of writing")
    if ranks.count(Rank.PROVENANCE) != 1:
        yield resources[0], Fault("", "there must be exactly one Provenance")


def _link(resource: Resource, name: str, path: str, target: Resource | None) -> Iterator[Fault]:
    if target is None:
        yield Fault(path, "leads to nothing that is filed with it")
        return
    if name in TARGETS and target.type not in TARGETS[name]:
        yield Fault(path, f"may not lead to {target.type}")
    replaced = resource.type == target.type == "DocumentReference"
    # what a withdrawn report leads to, and what a document replaces, is in the record already
    if target.rank >= resource.rank > Rank.NOTICE and not replaced:
        yield Fault(path, "leads to something that is written later")


def _covered(
    provenance: Resource, links: Sequence[Link], resources: Sequence[Resource]
) -> Iterator[tuple[Resource, Fault]]:
    wanted = {item.id for item in resources if item.rank not in (Rank.DEVICE, Rank.PROVENANCE)}
    targets = {reference.removeprefix(LINK) for name, _, reference in links if name == "target"}
    if targets != wanted:
        yield provenance, Fault("target", "does not cover everything that is filed of the recording")


def _links(nodes: Sequence[Node]) -> Iterator[Link]:
    for node in nodes:
        if not isinstance(node.value, dict):
            continue
        for element in ("reference", "url"):
            if str(node.value.get(element, "")).startswith(LINK):
                yield node.name, node.path, str(node.value[element])
