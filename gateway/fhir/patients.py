"""What a server says of a Patient, as far as deciding who it is needs it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from gateway.fhir.heard import as_mapping, as_mappings, as_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """One identifier of a Patient. `begins` and `ends` are FHIR dateTimes, possibly partial."""

    system: str
    value: str
    use: str = ""
    begins: str | None = None
    ends: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """What a server says of one Patient, as far as the decision needs it. None of it is ever logged.

    `names` are pairs of family name and given names; `deceased` True or a FHIR dateTime; `replaced_by` and
    `replaces` are Patient ids on the same server.
    """

    id: str
    active: bool = True
    numbers: tuple[Number, ...] = field(default=(), repr=False)
    birth_date: str | None = field(default=None, repr=False)
    names: tuple[tuple[str, tuple[str, ...]], ...] = field(default=(), repr=False)
    deceased: bool | str = False
    replaced_by: tuple[str, ...] = ()
    replaces: tuple[str, ...] = ()


def candidate(body: Mapping[str, Any]) -> Candidate | None:
    """Read a Patient. None when the body is anything else or has no id."""
    if body.get("resourceType") != "Patient" or not isinstance(body.get("id"), str):
        return None
    links = [(link.get("type"), _patient_id(link.get("other"))) for link in as_mappings(body.get("link"))]
    deceased = body.get("deceasedDateTime", body.get("deceasedBoolean", False))
    return Candidate(
        id=body["id"],
        active=body.get("active", True) is True,
        numbers=tuple(_number(item) for item in as_mappings(body.get("identifier"))),
        birth_date=as_text(body.get("birthDate")),
        names=tuple(_name(item) for item in as_mappings(body.get("name"))),
        deceased=deceased if isinstance(deceased, bool | str) else True,
        replaced_by=tuple(other for kind, other in links if kind == "replaced-by" and other),
        replaces=tuple(other for kind, other in links if kind == "replaces" and other),
    )


def _number(item: Mapping[str, Any]) -> Number:
    period = as_mapping(item.get("period"))
    return Number(
        system=str(item.get("system", "")),
        value=str(item.get("value", "")),
        use=str(item.get("use", "")),
        begins=as_text(period.get("start")),
        ends=as_text(period.get("end")),
    )


def _name(item: Mapping[str, Any]) -> tuple[str, tuple[str, ...]]:
    given = item.get("given")
    return str(item.get("family", "")), tuple(str(word) for word in given) if isinstance(given, list) else ()


def _patient_id(other: object) -> str | None:
    found = re.search(
        r"(?:^|/)Patient/([A-Za-z0-9\-.]{1,64})(?:/_history/[^/]+)?$", str(as_mapping(other).get("reference", ""))
    )
    return found[1] if found else None
