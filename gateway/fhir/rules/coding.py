"""Rules on codes: only those that a mapping file declares and may send, each with its right name and unit."""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from gateway.fhir.rules.walking import Fault, Node, mappings, walk
from gateway.mapping.codes import Codes

UCUM = "http://unitsofmeasure.org"
QUANTITIES = frozenset({"valueQuantity", "low", "high"})
CONCEPTS = frozenset(
    (
        *("code", "category", "interpretation", "method", "bodySite"),
        *("valueCodeableConcept", "dataAbsentReason", "activity"),
    )
)


def coding_faults(body: Mapping[str, Any], codes: Codes) -> Iterator[Fault]:
    """All faults of codes and units in one resource."""
    approved = codes.approved()
    for node in walk(body):
        if isinstance(node.value, Mapping):
            yield from _concept(node)
            yield from _coding(node, approved)
            yield from _quantity(node, approved)


def _concept(node: Node) -> Iterator[Fault]:
    if node.name not in CONCEPTS and "coding" not in node.value:
        return
    if not node.value.get("text"):
        yield Fault(node.path, "needs a text beside its codes")
    pairs = [(coding.get("system"), coding.get("code")) for coding in mappings(node.value.get("coding"))]
    if len(set(pairs)) != len(pairs):
        yield Fault(f"{node.path}.coding", "holds a code twice")


def _coding(node: Node, approved: Mapping[tuple[str, str], str]) -> Iterator[Fault]:
    if node.name != "coding":
        return
    system, code = str(node.value.get("system")), str(node.value.get("code"))
    display = approved.get((system, code))
    if display is None:
        yield Fault(node.path, f"{system} {code} is not among the codes that may be sent")
    elif node.value.get("display") != display:
        yield Fault(node.path, f"{system} {code} is not called so")


def _quantity(node: Node, approved: Mapping[tuple[str, str], str]) -> Iterator[Fault]:
    if node.name not in QUANTITIES:
        return
    value, code = node.value.get("value"), str(node.value.get("code"))
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        yield Fault(f"{node.path}.value", "is not a number")
    if node.value.get("system") != UCUM or (UCUM, code) not in approved:
        yield Fault(node.path, "has no unit of UCUM that may be sent")
    elif node.value.get("unit") != approved[UCUM, code]:
        yield Fault(f"{node.path}.unit", "is not how this unit is written")
