"""Does an Observation meet a published profile, as far as the profile file tells? Only then does it claim it."""

from collections.abc import Iterator, Mapping
from typing import Any

from gateway.mapping.codes import Codes
from gateway.mapping.profile import Part, Published

SNOMED = "http://snomed.info/sct"


def shortfalls(body: Mapping[str, Any], wanted: Published, codes: Codes) -> tuple[str, ...]:
    """What keeps an Observation from claiming a profile, in words without values; empty when it meets it."""
    return tuple(_shortfalls(body, wanted, codes))


def _shortfalls(body: Mapping[str, Any], wanted: Published, codes: Codes) -> Iterator[str]:
    if wanted.status and body.get("status") not in wanted.status:
        yield f"its status is not {' or '.join(wanted.status)}"
    if wanted.effective and not any(name.value in body for name in wanted.effective):
        yield f"it has no {' or '.join(wanted.effective)}"
    if not _carries(body.get("code", {}), wanted.codes, codes):
        yield f"its code is not {' and '.join(wanted.codes)}"
    components = body.get("component", ())
    for part in wanted.parts:
        yield from _part(components, part, codes)
    if wanted.closed and len(components) > len(wanted.parts):
        yield "it has components that the profile does not allow"
    site = body.get("bodySite", {}).get("coding", ())
    if wanted.site_coded and "bodySite" in body and not any(coding["system"] == SNOMED for coding in site):
        yield "its body site has no SNOMED CT code"


def _part(components: Any, part: Part, codes: Codes) -> Iterator[str]:
    found = [item for item in components if _carries(item.get("code", {}), part.codes, codes)]
    named = f"component {' and '.join(part.codes)}"
    if len(found) != 1:
        yield f"{named} does not stand exactly once"
        return
    if part.text and found[0]["code"].get("text") != part.text:
        yield f"{named} is not called {part.text}"
    if part.valued and not any(key.startswith("value") for key in found[0]):
        yield f"{named} has no value"


def _carries(concept: Mapping[str, Any], wanted: tuple[str, ...], codes: Codes) -> bool:
    held = {(coding["system"], coding["code"]) for coding in concept.get("coding", ())}
    return {(codes.coding(name).system, codes.coding(name).code) for name in wanted} <= held
