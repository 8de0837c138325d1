"""What a server answers, as values: pages of a search, answers to writes, complaints."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gateway.fhir.masking import mask


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchSet:
    """One page of a search. `ignored`: the server says that it did not use everything that was asked."""

    matches: tuple[Mapping[str, Any], ...]
    self_link: str | None
    next_link: str | None
    ignored: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryAnswer:
    """The answer to one write. `status` None: no status was given. `retry_after`: the wish of a throttled entry, as
    it was written.
    """

    status: int | None
    server_id: str | None = None
    version: str | None = None
    outcome: object = None
    retry_after: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleAnswer:
    """`atomic`: the server says that it was a transaction; else every entry went its own way."""

    atomic: bool
    entries: tuple[EntryAnswer, ...]


def searchset(body: object) -> SearchSet | None:
    """Read one page. None when the body is anything else."""
    if not isinstance(body, Mapping) or body.get("resourceType") != "Bundle" or body.get("type") != "searchset":
        return None
    matches: list[Mapping[str, Any]] = []
    ignored = False
    for entry in as_mappings(body.get("entry")):
        resource, mode = entry.get("resource"), as_mapping(entry.get("search")).get("mode")
        if not isinstance(resource, Mapping):
            continue
        if resource.get("resourceType") == "OperationOutcome":
            ignored = ignored or any(
                i.get("severity") in ("error", "warning") for i in as_mappings(resource.get("issue"))
            )
        elif mode in (None, "match"):
            matches.append(resource)
    links = {link.get("relation"): link.get("url") for link in as_mappings(body.get("link"))}
    return SearchSet(
        matches=tuple(matches),
        self_link=as_text(links.get("self")),
        next_link=as_text(links.get("next")),
        ignored=ignored,
    )


def bundle_answer(body: object) -> BundleAnswer | None:
    """Read the answer to a transaction or batch. None when the body is anything else."""
    if not isinstance(body, Mapping) or body.get("resourceType") != "Bundle":
        return None
    if body.get("type") not in ("transaction-response", "batch-response"):
        return None
    responses = [as_mapping(entry.get("response")) for entry in as_mappings(body.get("entry"))]
    return BundleAnswer(
        atomic=body["type"] == "transaction-response", entries=tuple(_entry_answer(item) for item in responses)
    )


def written_to(headers: Mapping[str, str], body: object, status: int) -> EntryAnswer:
    """The same facts from the answer to a single request."""
    found = _entry_answer(
        {
            "status": str(status),
            "location": headers.get("location") or headers.get("content-location", ""),
            "etag": headers.get("etag", ""),
        }
    )
    if found.server_id is None and isinstance(body, Mapping) and isinstance(body.get("id"), str):
        version = as_text(as_mapping(body.get("meta")).get("versionId"))
        return EntryAnswer(status=status, server_id=body["id"], version=found.version or version)
    return found


def outcome_text(body: object, masked: Sequence[str]) -> str:
    """An OperationOutcome in one line: severity, code, where, what; "" for any other body.

    `masked`: names, numbers and dates of a person. No word of a name stands in the line, and no number, however its
    digits are grouped.
    """
    if not isinstance(body, Mapping) or body.get("resourceType") != "OperationOutcome":
        return ""
    return " | ".join(filter(None, (_complaint(issue, masked) for issue in as_mappings(body.get("issue"))[:10])))


def _complaint(issue: Mapping[str, Any], masked: Sequence[str]) -> str:
    places = issue.get("expression") or issue.get("location")
    where = ", ".join(str(place) for place in places[:3]) if isinstance(places, list) else ""
    parts = [as_text(issue.get("severity")), as_text(issue.get("code")), where, _said(issue)]
    # masked before anything is cut off, or half of a word would no longer be known for what it is
    return " ".join(mask(part[:LONGEST], masked)[:500] for part in parts if part)


def _said(issue: Mapping[str, Any]) -> str:
    return as_text(issue.get("diagnostics")) or as_text(as_mapping(issue.get("details")).get("text")) or ""


LONGEST = 20_000
"""letters of one complaint that are looked at; a word cut there is far behind what is kept"""


def version_of(body: Mapping[str, Any]) -> str | None:
    """The version that a resource's own meta names."""
    return as_text(as_mapping(body.get("meta")).get("versionId"))


def _entry_answer(response: Mapping[str, Any]) -> EntryAnswer:
    status = str(response.get("status", ""))[:3]
    place = PLACE.search(str(response.get("location", "")))
    etag = re.search(r'"([^"]+)"', str(response.get("etag", "")))
    return EntryAnswer(
        status=int(status) if status.isdigit() else None,
        server_id=place["id"] if place else None,
        version=etag[1] if etag else place["version"] if place else None,
        outcome=response.get("outcome"),
        retry_after=_wished(response),
    )


def _wished(response: Mapping[str, Any]) -> str | None:
    """R4 has no element for the Retry-After of one entry: an extension of that name, or the words of the outcome."""
    for extension in as_mappings(response.get("extension")):
        if re.search(r"retry-?after$", str(extension.get("url", "")), re.IGNORECASE):
            return next((str(value) for key, value in extension.items() if key.startswith("value")), None)
    for issue in as_mappings(as_mapping(response.get("outcome")).get("issue")):
        if found := WISH.search(_said(issue)[:LONGEST]):
            return found["date"] or found["seconds"]
    return None


WISH = re.compile(
    r"retry[- ]after:?\s*"
    r"(?:(?P<date>[A-Z][a-z]{2}, \d\d [A-Z][a-z]{2} \d{4} \d\d:\d\d:\d\d GMT)|(?P<seconds>\d{1,9})\b)",
    re.IGNORECASE,
)


PLACE = re.compile(r"(?:^|/)[A-Z][A-Za-z]+/(?P<id>[A-Za-z0-9\-.]{1,64})(?:/_history/(?P<version>[A-Za-z0-9\-.]+))?$")


def as_text(value: object) -> str | None:
    """The value if it is text that says something."""
    return value if isinstance(value, str) and value else None


def as_mapping(value: object) -> Mapping[str, Any]:
    """The value if it is a JSON object, else an empty one."""
    return value if isinstance(value, Mapping) else {}


def as_mappings(value: object) -> list[Mapping[str, Any]]:
    """The JSON objects of a list; anything else is an empty one."""
    return [item for item in value if isinstance(item, Mapping)] if isinstance(value, list) else []
