"""Resources as they are kept and sent: stable bytes, exact numbers."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import IntEnum
from hashlib import sha256
from typing import Any

import orjson

from gateway.model import Identifier, Person, Sex


class Rank(IntEnum):
    """Order of writing: whatever stands higher may refer only to what stands before it."""

    NOTICE = 0
    """the report of a withdrawn recording: whoever opens it must learn of it before anything else happens"""
    DEVICE = 1
    READING = 2
    SUMMARY = 3
    REPORT = 4
    PROVENANCE = 5


@dataclass(frozen=True, slots=True)
class Resource:
    """One FHIR R4 resource in destination-neutral form.

    `body` is JSON-ready: numbers are `int` or `Decimal` (never float), instants are text with their offset. The
    subject is a logical reference (identifier only) and links between our resources read `urn:uuid:<id>`.
    """

    rank: Rank
    body: Mapping[str, Any]

    @property
    def id(self) -> str:
        """Our own id, a UUID as text."""
        return str(self.body["id"])

    @property
    def type(self) -> str:
        """The FHIR resource type."""
        return str(self.body["resourceType"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel:
    """What one destination gets of one recording: whose it is, when it ended, and the resources in order."""

    person: Person
    ended: datetime
    resources: tuple[Resource, ...]


def written(body: object, *, indent: bool = False) -> bytes:
    """JSON bytes: sorted keys, UTF-8, whole numbers whole, decimals with exactly their decimals, no exponent.

    Raises TypeError for a float, a NaN, an instant that is no text yet: nothing may be rewritten on its way out.
    """
    option = orjson.OPT_SORT_KEYS | orjson.OPT_PASSTHROUGH_DATETIME | (orjson.OPT_INDENT_2 if indent else 0)
    _refuse_floats(body)
    return orjson.dumps(body, default=_exact, option=option)


def parsed(content: bytes | str) -> Any:
    """JSON as it stands: decimals become `Decimal`, so that nothing is lost. Raises ValueError for anything else."""
    return json.loads(content, parse_float=Decimal, parse_constant=_refuse_constant)


def content_hash(resource: Resource) -> str:
    """SHA-256 (hex) over the neutral canonical bytes; equal content gives an equal hash."""
    return sha256(written(resource.body)).hexdigest()


def pack(parcel: Parcel) -> bytes:
    """Canonical bytes of a parcel; the same parcel always gives the same bytes."""
    person = parcel.person
    return written(
        {
            "form": 1,
            "ended": parcel.ended.isoformat(),
            "person": {
                "system": person.identifier.system if person.identifier else None,
                "identifier": person.identifier.value if person.identifier else None,
                "family_name": person.family_name,
                "given_name": person.given_name,
                "birth_date": person.birth_date.isoformat() if person.birth_date else None,
                "sex": person.sex.value if person.sex else None,
            },
            "resources": [{"rank": int(resource.rank), "body": resource.body} for resource in parcel.resources],
        }
    )


def unpack(content: bytes) -> Parcel:
    """The parcel that `pack` wrote. Raises ValueError when the bytes are of another form."""
    data = parsed(content)
    if data.get("form") != 1:
        raise ValueError("these bytes are not a parcel of form 1")
    return Parcel(
        person=_person(data["person"]),
        ended=datetime.fromisoformat(data["ended"]),
        resources=tuple(Resource(Rank(item["rank"]), item["body"]) for item in data["resources"]),
    )


def began(parcel: Parcel) -> datetime:
    """When the recording began, as its report says. Raises ValueError for a parcel without a report."""
    for resource in parcel.resources:
        if resource.type == "DiagnosticReport":
            return datetime.fromisoformat(resource.body["effectivePeriod"]["start"])
    raise ValueError("a parcel without a report")


def links(resources: Sequence[Resource]) -> set[str]:
    """Our ids to which these resources lead, whether or not they are among them."""
    return {found.removeprefix("urn:uuid:") for resource in resources for found in _links(resource.body)}


def _links(value: Any) -> Iterator[str]:
    if isinstance(value, Mapping):
        reference = value.get("reference")
        if isinstance(reference, str) and reference.startswith("urn:uuid:"):
            yield reference
        for item in value.values():
            yield from _links(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from _links(item)


def bundle(resources: Sequence[Resource]) -> dict[str, Any]:
    """The neutral form as one transaction Bundle, for people to read; `address` makes the ones that are sent."""
    return {
        "resourceType": "Bundle",
        "type": "transaction",
        "entry": [
            {
                "fullUrl": f"urn:uuid:{resource.id}",
                "resource": dict(resource.body),
                "request": {"method": "PUT", "url": f"{resource.type}/{resource.id}"},
            }
            for resource in resources
        ],
    }


def _person(data: Mapping[str, Any]) -> Person:
    return Person(
        identifier=Identifier(data["system"], data["identifier"]) if data["identifier"] is not None else None,
        family_name=data["family_name"],
        given_name=data["given_name"],
        birth_date=date.fromisoformat(data["birth_date"]) if data["birth_date"] else None,
        sex=Sex(data["sex"]) if data["sex"] else None,
    )


def _exact(value: object) -> orjson.Fragment:
    if isinstance(value, Decimal) and value.is_finite():
        return orjson.Fragment(format(value, "f").encode())
    if isinstance(value, Mapping):
        return orjson.Fragment(written(dict(value)))
    raise TypeError(f"{type(value).__name__} has no exact form in JSON")


def _refuse_floats(value: object) -> None:
    if isinstance(value, str | int):
        return
    if isinstance(value, float):
        raise TypeError("a float has no exact form in JSON; use int or Decimal")
    if isinstance(value, dict | Mapping):
        for item in value.values():
            _refuse_floats(item)
    elif isinstance(value, list | tuple):
        for item in value:
            _refuse_floats(item)


def _refuse_constant(word: str) -> None:
    raise ValueError(f"{word} is not JSON")
