"""Where our resources are, or will be, on one server: its own Patient, its ids, its links."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gateway.fhir.content import Resource, content_hash
from gateway.fhir.identity import SYSTEM
from gateway.fhir.orders import with_order
from gateway.model import Filed, Identifier, Remark, Way

LINK = "urn:uuid:"


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientLink:
    """How this destination knows the person: its own Patient ("Patient/123"), or only a number of its own system.

    Neither given: the number in the file stands. `replaced`: the entry that led to this one by a merge. `remarks`:
    how they were found, where somebody may want to know. `order`: which of its orders asked for the recording ("" for
    none, None: as the export names it).
    """

    reference: str | None = None
    identifier: Identifier | None = None
    replaced: str | None = None
    remarks: tuple[Remark, ...] = ()
    order: str | None = None


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
        return with_order(resource.type, body, self.link.order)

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
            for element in ("reference", "url"):  # an attachment may lie in a Binary of ours
                if isinstance(link := value.get(element), str):
                    linked[element] = self._reference(link)
            return linked
        if isinstance(value, list | tuple):
            return [self._linked(item) for item in value]
        return value

    def _reference(self, reference: str) -> str:
        ours = reference.removeprefix(LINK)
        if not reference.startswith(LINK):
            return reference
        if filed := self.ledger.get(ours):
            return f"{filed.resource_type}/{filed.server_id}"
        return f"{self.kinds[ours]}/{ours}" if self.way is Way.PUT and ours in self.kinds else reference

    def _subject(self, neutral: Mapping[str, Any]) -> dict[str, Any]:
        if self.link.reference:
            return {"reference": self.link.reference, "type": "Patient"}
        if number := self.link.identifier:
            return {**neutral, "identifier": {"system": number.system, "value": number.value}}
        return dict(neutral)


def address_of(resources: Sequence[Resource], link: PatientLink, way: Way, ledger: Mapping[str, Filed]) -> Address:
    """The address of a parcel as the ledger stands now."""
    return Address(link=link, way=way, ledger=ledger, kinds={item.id: item.type for item in resources})


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


def own_identifier(resource: Resource) -> str | None:
    """The resource's own `urn:uuid:` value among its identifiers, None for one that has none (Provenance)."""
    values = [item["value"] for item in resource.body.get("identifier", ()) if item.get("system") == SYSTEM]
    return LINK + resource.id if LINK + resource.id in values else None
