"""Rules on codes: only those that a mapping file declares and may send, each with its right name and unit."""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from gateway.fhir.rules.walking import Fault, Node, mappings

Approved = Mapping[tuple[str, str], str]
"""Display of every (system, code) that may be sent."""

Spellings = frozenset[tuple[str, str]]
"""(code of a unit, another way in which a profile wants it written)."""

UCUM = "http://unitsofmeasure.org"
QUANTITIES = frozenset({"valueQuantity", "low", "high"})
CONCEPTS = frozenset(
    (
        *("code", "category", "interpretation", "method", "bodySite"),
        *("valueCodeableConcept", "dataAbsentReason", "activity"),
    )
)


def coding_faults(nodes: Sequence[Node], approved: Approved, spellings: Spellings) -> Iterator[Fault]:
    """All faults of codes and units in one resource, given as its nodes."""
    for node in nodes:
        if isinstance(node.value, dict):
            yield from _concept(node)
            yield from _coding(node, approved)
            yield from _quantity(node, approved, spellings)


def _concept(node: Node) -> Iterator[Fault]:
    if node.name not in CONCEPTS and "coding" not in node.value:
        return
    if not node.value.get("text"):
        yield Fault(node.path, "needs a text beside its codes")
    pairs = [(str(coding.get("system")), str(coding.get("code"))) for coding in mappings(node.value.get("coding"))]
    if len(set(pairs)) != len(pairs):
        yield Fault(f"{node.path}.coding", "holds a code twice")


def _coding(node: Node, approved: Approved) -> Iterator[Fault]:
    if node.name != "coding":
        return
    system, code = str(node.value.get("system")), str(node.value.get("code"))
    display = approved.get((system, code))
    if display is None:
        yield Fault(node.path, f"{system} {code} is not among the codes that may be sent")
    elif node.value.get("display") != display:
        yield Fault(node.path, f"{system} {code} is not called so")


def _quantity(node: Node, approved: Approved, spellings: Spellings) -> Iterator[Fault]:
    if node.name not in QUANTITIES:
        return
    value, code = node.value.get("value"), str(node.value.get("code"))
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        yield Fault(f"{node.path}.value", "is not a number")
    if node.value.get("system") != UCUM or (UCUM, code) not in approved:
        yield Fault(node.path, "has no unit of UCUM that may be sent")
    elif (text := str(node.value.get("unit"))) != approved[UCUM, code] and (code, text) not in spellings:
        yield Fault(f"{node.path}.unit", "is not how this unit is written")
