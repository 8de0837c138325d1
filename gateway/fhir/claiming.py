"""Does a resource meet a published profile, as far as the profile file tells? Only then does it claim it."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from gateway.fhir.content import Resource
from gateway.mapping.codes import Codes
from gateway.mapping.profile import Claim, Part, Profile, Published

SNOMED = "http://snomed.info/sct"
LOINC = "http://loinc.org"
CLAIMS = {
    "85354-9": Claim.READING,
    "8867-4": Claim.HEART_RATE,
    "96607-7": Claim.PERIOD,
    "97844-5": Claim.WHOLE_DAY,
}
"""Which claim belongs to which LOINC code of an Observation."""


class Lack(StrEnum):
    """Closed list of what keeps a resource from claiming a profile."""

    STATUS = "status"
    EFFECTIVE = "effective"
    CODE = "code"
    COMPONENT = "component"
    COMPONENT_TEXT = "component-text"
    COMPONENT_VALUE = "component-value"
    MORE_COMPONENTS = "more-components"
    BODY_SITE = "body-site"


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What is lacking, as a code and in words without values."""

    lack: Lack
    said: str


def shortfalls(body: Mapping[str, Any], wanted: Published, codes: Codes) -> tuple[Shortfall, ...]:
    """What keeps a resource from claiming a profile; empty when it meets it."""
    return tuple(_shortfalls(body, wanted, codes))


def unclaimed(resources: Sequence[Resource], profile: Profile, codes: Codes) -> tuple[str, ...]:
    """Profiles that were wanted but not claimed, each with how many resources and why, in codes only.

    "au-core-bloodpressure: 40 without it (code, component)".
    """
    counts: dict[str, int] = defaultdict(int)
    lacks: dict[str, set[str]] = defaultdict(set)
    for resource in resources:
        claim = claim_of(resource.body)
        for wanted in profile.claims.get(claim, ()) if claim else ():
            if found := shortfalls(resource.body, wanted, codes):
                name = wanted.url.rpartition("/")[2]
                counts[name] += 1
                lacks[name] |= {item.lack.value for item in found}
    return tuple(f"{name}: {count} without it ({', '.join(sorted(lacks[name]))})" for name, count in counts.items())


def still_claiming(body: Mapping[str, Any], profile: Profile, codes: Codes) -> dict[str, Any]:
    """The resource without the claims that it no longer meets, as after a change of its status."""
    claim, meta = claim_of(body), body.get("meta", {})
    lost = (
        {wanted.url for wanted in profile.claims.get(claim, ()) if shortfalls(body, wanted, codes)}
        if claim
        else set()
    )
    kept = [url for url in meta.get("profile", ()) if url not in lost]
    rest = {name: value for name, value in meta.items() if name != "profile"} | ({"profile": kept} if kept else {})
    bare = {name: value for name, value in body.items() if name != "meta"}
    return bare | ({"meta": rest} if rest else {})


def claim_of(body: Mapping[str, Any]) -> Claim | None:
    """What may be claimed on a resource; None for nothing."""
    if body.get("resourceType") == "DiagnosticReport":
        return Claim.REPORT
    if body.get("resourceType") != "Observation":
        return None
    held = [item["code"] for item in body["code"].get("coding", ()) if item["system"] == LOINC]
    return next((CLAIMS[code] for code in held if code in CLAIMS), None)


def _shortfalls(body: Mapping[str, Any], wanted: Published, codes: Codes) -> Iterator[Shortfall]:
    if wanted.status and body.get("status") not in wanted.status:
        yield Shortfall(Lack.STATUS, f"its status is not {' or '.join(wanted.status)}")
    if wanted.effective and not any(name.value in body for name in wanted.effective):
        yield Shortfall(Lack.EFFECTIVE, f"it has no {' or '.join(wanted.effective)}")
    if not _carries(body.get("code", {}), wanted.codes, codes):
        yield Shortfall(Lack.CODE, f"its code is not {' and '.join(wanted.codes)}")
    components = body.get("component", ())
    for part in wanted.parts:
        yield from _part(components, part, codes)
    if wanted.closed and len(components) > len(wanted.parts):
        yield Shortfall(Lack.MORE_COMPONENTS, "it has components that the profile does not allow")
    site = body.get("bodySite", {}).get("coding", ())
    if wanted.site_coded and "bodySite" in body and not any(coding["system"] == SNOMED for coding in site):
        yield Shortfall(Lack.BODY_SITE, "its body site has no SNOMED CT code")


def _part(components: Any, part: Part, codes: Codes) -> Iterator[Shortfall]:
    found = [item for item in components if _carries(item.get("code", {}), part.codes, codes)]
    named = f"component {' and '.join(part.codes)}"
    if len(found) != 1:
        yield Shortfall(Lack.COMPONENT, f"{named} does not stand exactly once")
        return
    if part.text and found[0]["code"].get("text") != part.text:
        yield Shortfall(Lack.COMPONENT_TEXT, f"{named} is not called {part.text}")
    if part.valued and not any(key.startswith("value") for key in found[0]):
        yield Shortfall(Lack.COMPONENT_VALUE, f"{named} has no value")


def _carries(concept: Mapping[str, Any], wanted: tuple[str, ...], codes: Codes) -> bool:
    held = {(coding["system"], coding["code"]) for coding in concept.get("coding", ())}
    return {(codes.coding(name).system, codes.coding(name).code) for name in wanted} <= held
