"""A recording as one file for a place without a server: a Bundle, its name, and the printed report in it."""

import base64
from collections.abc import Iterator, Sequence
from typing import Any

from gateway.fhir.address import LINK, PatientLink, address_of, own_identifier
from gateway.fhir.content import Resource
from gateway.fhir.identity import SYSTEM
from gateway.model import Way


def bundle_for(resources: Sequence[Resource], link: PatientLink) -> dict[str, Any]:
    """One transaction under our own ids, ready to be posted to a server that takes them; the person stands in it by
    number. The same resources always give the same bundle.
    """
    address = address_of(resources, link, Way.PUT, {})
    return {
        "resourceType": "Bundle",
        "type": "transaction",
        "entry": [
            {
                "fullUrl": LINK + resource.id,
                "resource": address.body(resource),
                "request": {"method": "PUT", "url": f"{resource.type}/{resource.id}"},
            }
            for resource in sorted(resources, key=lambda item: item.rank)
        ],
    }


def name_of(resources: Sequence[Resource]) -> str:
    """The recording's own opaque identifier, which most of its resources share; tells nothing of the person."""
    shared = (
        item["value"]
        for resource in resources
        if own_identifier(resource)
        for item in resource.body["identifier"]
        if item["system"] == SYSTEM and item["value"] != LINK + resource.id
    )
    return str(next(shared)).removeprefix(LINK)


def prints(resources: Sequence[Resource]) -> Iterator[bytes]:
    """The printed reports in these resources."""
    for resource in resources:
        yield from _prints(resource.body)


def _prints(value: Any) -> Iterator[bytes]:
    if isinstance(value, dict):
        if value.get("contentType") == "application/pdf" and "data" in value:
            yield base64.b64decode(value["data"])
        for item in value.values():
            yield from _prints(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from _prints(item)
