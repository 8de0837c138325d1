"""What record servers say, read with care: an answer may be HTML, empty, or something else than was asked for."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from gateway.model import Way


@dataclass(frozen=True, slots=True, kw_only=True)
class Capabilities:
    """What a CapabilityStatement declares. Nothing declared means "no"; what a server does may still differ.

    `update_create` and `conditional_create` hold the resource types for which it is declared; `searches` maps a
    resource type to its declared search parameters. A server does not say how many entries it takes at once.
    """

    fhir_version: str = ""
    software: str = ""
    transaction: bool = False
    batch: bool = False
    update_create: frozenset[str] = frozenset()
    conditional_create: frozenset[str] = frozenset()
    searches: Mapping[str, frozenset[str]] = field(default_factory=dict)
    interactions: Mapping[str, frozenset[str]] = field(default_factory=dict)
    everywhere: frozenset[str] = frozenset()
    """search parameters of all resource types"""

    @property
    def speaks_r4(self) -> bool:
        """FHIR 4.0.x, the only version that is spoken here."""
        return self.fhir_version == "4.0" or self.fhir_version.startswith("4.0.")

    @property
    def tags(self) -> bool:
        """Is a Provenance found by its tag? R4 gives it no identifier, so else it is asked for by its target."""
        return "_tag" in self.everywhere | self.searches.get("Provenance", frozenset())


def capabilities(body: object) -> Capabilities | None:
    """Read a CapabilityStatement (R4). None when the body is anything else."""
    if not isinstance(body, Mapping) or body.get("resourceType") != "CapabilityStatement":
        return None
    rest = next((item for item in _mappings(body.get("rest")) if item.get("mode") == "server"), {})
    kinds = {item["type"]: item for item in _mappings(rest.get("resource")) if isinstance(item.get("type"), str)}
    system = {item.get("code") for item in _mappings(rest.get("interaction"))}
    software = body.get("software")
    return Capabilities(
        fhir_version=str(body.get("fhirVersion", "")),
        software=str(software.get("name", "")) if isinstance(software, Mapping) else "",
        transaction="transaction" in system,
        batch="batch" in system,
        update_create=frozenset(kind for kind, item in kinds.items() if item.get("updateCreate") is True),
        conditional_create=frozenset(kind for kind, item in kinds.items() if item.get("conditionalCreate") is True),
        searches={kind: _texts(item.get("searchParam"), "name") for kind, item in kinds.items()},
        everywhere=_texts(rest.get("searchParam"), "name"),
        interactions={kind: _texts(item.get("interaction"), "code") for kind, item in kinds.items()},
    )


def best_way(capabilities: Capabilities, types: frozenset[str]) -> Way | None:
    """The safest way of writing that a server declares for these types; None: it cannot take them safely."""
    if not (capabilities.speaks_r4 and capabilities.transaction):
        return None
    if types <= capabilities.update_create:
        return Way.PUT
    if "Binary" in types:  # it has no identifier by which a server would know it again, so only our own id is safe
        return None
    if "Provenance" in types and not capabilities.tags and not _declared(capabilities, "Provenance", "target"):
        return None
    if types <= capabilities.conditional_create:
        return Way.CONDITIONAL
    if all(_declared(capabilities, kind, "identifier") for kind in types - {"Provenance"}):
        return Way.SEARCH_FIRST
    return None


def _declared(capabilities: Capabilities, kind: str, parameter: str) -> bool:
    return parameter in capabilities.everywhere | capabilities.searches.get(kind, frozenset())


def _texts(items: object, key: str) -> frozenset[str]:
    return frozenset(item[key] for item in _mappings(items) if isinstance(item.get(key), str))


def _mappings(value: object) -> Sequence[Mapping[str, Any]]:
    if not isinstance(value, list):
        return ()
    return [item for item in value if isinstance(item, Mapping)]
