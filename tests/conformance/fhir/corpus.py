"""Resources with one rule broken in each: those that our own check is tested with, as files for the judges."""

import json
from collections.abc import Iterator
from typing import Any

from gateway import fhir
from gateway.fhir import Resource, check, check_bundle
from tests.unit.fhir import test_check as broken
from tests.unit.fhir.building import all_codes

TOGETHER = frozenset(
    (
        "report that rests on a device",
        "reading that rests on the report",
        "link to nothing",
        "provenance that misses one",
    )
)
"""Faults between resources: only a whole bundle shows them."""


def corpus() -> Iterator[tuple[str, bool, bytes]]:
    """Name, whether our check refuses it, and content of every broken resource or bundle."""
    for name, kind, change, *_ in (*broken.BROKEN, *broken.MODELS):
        resources = broken.resources()
        body = broken.pick(resources, kind)
        change(body)
        _link(body)
        shown = fhir.bundle(resources) if name in TOGETHER else body
        yield name, bool(check(resources, all_codes())), _json(shown)
    for name, change, _ in broken.BUNDLES:
        bundle = broken.a_bundle()
        change(bundle)
        yield f"bundle: {name}", bool(check_bundle(bundle, all_codes())), _json(bundle)


def sound() -> Iterator[tuple[str, bytes]]:
    """The unbroken resources that the broken ones were made of: the judges must let every one pass."""
    resources: list[Resource] = broken.resources()
    for kind in ("reading", "rate", "awake", "day", "whole", "report", "monitor", "provenance"):
        yield f"sound {kind}", _json(broken.pick(resources, kind))
    yield "sound bundle", _json(fhir.bundle(resources))


def _link(body: dict[str, Any]) -> None:
    for element in [*body.get("result", [])[:1], *body.get("derivedFrom", [])[:1]]:
        kind = element["reference"].lower()
        if kind in ("monitor", "report"):
            element["reference"] = f"urn:uuid:{broken.pick(broken.resources(), kind)['id']}"


def _json(body: Any) -> bytes:
    """Plain JSON, because our own writer refuses some of the faults."""
    return json.dumps(body, default=_number, ensure_ascii=False, allow_nan=True).encode()


def _number(value: Any) -> Any:
    return float(value)
