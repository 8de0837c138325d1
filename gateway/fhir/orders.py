"""What a server says of an order (ServiceRequest), and which order an export names."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from gateway.fhir.content import Resource
from gateway.fhir.heard import as_mapping, as_mappings, as_text

BASED = frozenset({"Observation", "DiagnosticReport"})
"""Resource types that say which order asked for them."""
ORDERS = frozenset({"order", "original-order", "reflex-order", "filler-order", "instance-order"})
"""Intents that ask for something to be done (FHIR R4 `request-intent`); a plan or a proposal does not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One ServiceRequest as far as deciding needs it. `codes` and `numbers` are pairs of system and value."""

    id: str
    status: str
    intent: str
    subject: str = ""
    codes: frozenset[tuple[str, str]] = frozenset()
    numbers: frozenset[tuple[str, str]] = field(default=frozenset(), repr=False)
    forbids: bool = False

    @property
    def reference(self) -> str:
        """As results link to it."""
        return f"ServiceRequest/{self.id}"

    @property
    def open(self) -> bool:
        """It asks for something that was not done yet."""
        return self.status == "active" and self.intent in ORDERS and not self.forbids


def order(body: Mapping[str, Any], base: str) -> Order | None:
    """Read a ServiceRequest. None when the body is anything else or has no id. `base`: the server's own address, with
    which some servers write references.
    """
    if body.get("resourceType") != "ServiceRequest" or not isinstance(body.get("id"), str):
        return None
    codings = as_mappings(as_mapping(body.get("code")).get("coding"))
    return Order(
        id=body["id"],
        status=str(body.get("status", "")),
        intent=str(body.get("intent", "")),
        subject=(as_text(as_mapping(body.get("subject")).get("reference")) or "").removeprefix(f"{base}/"),
        codes=frozenset((str(each.get("system", "")), str(each.get("code", ""))) for each in codings),
        numbers=frozenset(
            (str(each.get("system", "")), str(each.get("value", ""))) for each in as_mappings(body.get("identifier"))
        ),
        forbids=body.get("doNotPerform") is True,
    )


def order_number(resources: Sequence[Resource]) -> str | None:
    """The number of the order that the export names."""
    for resource in resources:
        for each in as_mappings(resource.body.get("basedOn")):
            if value := as_text(as_mapping(each.get("identifier")).get("value")):
                return value
    return None


def with_order(kind: str, body: dict[str, Any], reference: str | None) -> dict[str, Any]:
    """The body as the result of this order of the server: "" for none, None as the export named it."""
    if reference is None or kind not in BASED:
        return body
    rest = {key: value for key, value in body.items() if key != "basedOn"}
    return rest | ({"basedOn": [{"reference": reference, "type": "ServiceRequest"}]} if reference else {})
