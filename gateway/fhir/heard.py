"""What a server answers, as values: pages of a search, answers to writes, complaints."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchSet:
    """One page of a search. `ignored`: the server says that it did not use everything that was asked."""

    matches: tuple[Mapping[str, Any], ...]
    self_link: str | None
    next_link: str | None
    ignored: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryAnswer:
    """The answer to one write. `status` None: no status was given."""

    status: int | None
    server_id: str | None = None
    version: str | None = None
    outcome: object = None


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
    words = _masking(masked)
    return " | ".join(filter(None, (_complaint(issue, words) for issue in as_mappings(body.get("issue"))[:10])))


def _complaint(issue: Mapping[str, Any], words: re.Pattern[str] | None) -> str:
    places = issue.get("expression") or issue.get("location")
    where = ", ".join(str(place) for place in places[:3]) if isinstance(places, list) else ""
    said = as_text(issue.get("diagnostics")) or as_text(as_mapping(issue.get("details")).get("text")) or ""
    parts = [as_text(issue.get("severity")), as_text(issue.get("code")), where, said]
    if words:  # before anything is cut off, or half of a word would no longer be known for what it is
        parts = [words.sub("[person]", part) for part in parts if part]
    return " ".join(part[:500] for part in parts if part)


def _masking(masked: Sequence[str]) -> re.Pattern[str] | None:
    """Finds every masked text, and each word of a name by itself. None when nothing is masked."""
    wanted = {text for text in masked if text.strip()}
    wanted |= {word for text in wanted for word in BETWEEN.split(text) if sum(map(str.isalpha, word)) >= 2}
    patterns = [_written(text) for text in sorted(wanted, key=lambda text: (-len(text), text))]
    return re.compile("|".join(patterns), re.IGNORECASE) if patterns else None


def _written(text: str) -> str:
    """The ways in which a text is written: blanks and hyphens come and go in a number, and change in a name."""
    pieces = [re.escape(piece) for piece in BETWEEN.split(text) if piece]
    if any(map(str.isdigit, text)):
        return GAP.join(re.escape(character) for character in text if not re.fullmatch(GAP, character))
    whole = f"{BETWEEN.pattern}".join(pieces) or re.escape(text)
    # a very short name is also a part of other words
    return rf"(?<![^\W\d_]){whole}(?![^\W\d_])" if len(text) <= 3 and text.isascii() else whole


BETWEEN = re.compile(r"[\s\-\u2010-\u2015'\u2018\u2019]+")
GAP = r"[\s\-\u2010-\u2015]*"


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
