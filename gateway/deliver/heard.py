"""What a server says, as values: searches, Patients, answers to bundles, complaints, copies of what we sent."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from gateway.deliver.person import Candidate, Number


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
    for entry in _mappings(body.get("entry")):
        resource, mode = entry.get("resource"), _mapping(entry.get("search")).get("mode")
        if not isinstance(resource, Mapping):
            continue
        if resource.get("resourceType") == "OperationOutcome":
            ignored = ignored or any(
                i.get("severity") in ("error", "warning") for i in _mappings(resource.get("issue"))
            )
        elif mode in (None, "match"):
            matches.append(resource)
    links = {link.get("relation"): link.get("url") for link in _mappings(body.get("link"))}
    return SearchSet(
        matches=tuple(matches),
        self_link=_text(links.get("self")),
        next_link=_text(links.get("next")),
        ignored=ignored,
    )


def candidate(body: Mapping[str, Any]) -> Candidate | None:
    """Read a Patient. None when the body is anything else or has no id."""
    if body.get("resourceType") != "Patient" or not isinstance(body.get("id"), str):
        return None
    links = [(link.get("type"), _patient_id(link.get("other"))) for link in _mappings(body.get("link"))]
    deceased = body.get("deceasedDateTime", body.get("deceasedBoolean", False))
    return Candidate(
        id=body["id"],
        active=body.get("active", True) is True,
        numbers=tuple(_number(item) for item in _mappings(body.get("identifier"))),
        birth_date=_text(body.get("birthDate")),
        names=tuple(_name(item) for item in _mappings(body.get("name"))),
        deceased=deceased if isinstance(deceased, bool | str) else True,
        replaced_by=tuple(other for kind, other in links if kind == "replaced-by" and other),
        replaces=tuple(other for kind, other in links if kind == "replaces" and other),
    )


def bundle_answer(body: object) -> BundleAnswer | None:
    """Read the answer to a transaction or batch. None when the body is anything else."""
    if not isinstance(body, Mapping) or body.get("resourceType") != "Bundle":
        return None
    if body.get("type") not in ("transaction-response", "batch-response"):
        return None
    responses = [_mapping(entry.get("response")) for entry in _mappings(body.get("entry"))]
    return BundleAnswer(
        atomic=body["type"] == "transaction-response", entries=tuple(_entry_answer(item) for item in responses)
    )


def outcome_text(body: object, masked: Sequence[str]) -> str:
    """An OperationOutcome in one line: severity, code, where, what; words of `masked` never in it. "" for others."""
    if not isinstance(body, Mapping) or body.get("resourceType") != "OperationOutcome":
        return ""
    lines = []
    for issue in _mappings(body.get("issue"))[:10]:
        where = ", ".join(str(place) for place in issue.get("expression", issue.get("location", ()))[:3])
        said = issue.get("diagnostics") or _mapping(issue.get("details")).get("text") or ""
        parts = (str(issue.get("severity", "")), str(issue.get("code", "")), where, str(said)[:500])
        lines.append(" ".join(part for part in parts if part))
    text = " | ".join(lines)
    for word in sorted(filter(None, masked), key=len, reverse=True):
        text = re.sub(re.escape(word), "[person]", text, flags=re.IGNORECASE)
    return text


def differences(sent: Mapping[str, Any], held: Mapping[str, Any]) -> tuple[str, ...]:
    """Places where the server's copy does not mean what was sent; what the server adds is no difference."""
    return tuple(_differing(sent, held, str(sent.get("resourceType", ""))))


def _differing(sent: Any, held: Any, place: str) -> list[str]:
    if isinstance(sent, Mapping):
        if not isinstance(held, Mapping):
            return [place]
        return [
            found
            for key, value in sent.items()
            if key not in ("meta", "text") and not _open_link(key, value)
            for found in _differing(value, held.get(key), f"{place}.{key}")
        ]
    if isinstance(sent, list | tuple):
        if not isinstance(held, list | tuple) or len(held) < len(sent):
            return [place]
        return [f for i, value in enumerate(sent) for f in _differing(value, held[i], f"{place}[{i}]")]
    return [] if _same(sent, held) else [place]


def _open_link(key: str, value: object) -> bool:
    """A link inside one bundle: the server writes the id there that it gave."""
    return key == "reference" and isinstance(value, str) and value.startswith("urn:uuid:")


def _same(sent: Any, held: Any) -> bool:
    if isinstance(sent, int | Decimal) and not isinstance(sent, bool) and isinstance(held, int | Decimal):
        return Decimal(sent) == Decimal(held)
    if isinstance(sent, str) and isinstance(held, str):
        # some servers answer with absolute references and versions
        return sent == held or held.endswith(f"/{sent}")
    return bool(sent == held)


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
        version = _text(_mapping(body.get("meta")).get("versionId"))
        return EntryAnswer(status=status, server_id=body["id"], version=found.version or version)
    return found


def version_of(body: Mapping[str, Any]) -> str | None:
    """The version that a resource's own meta names."""
    return _text(_mapping(body.get("meta")).get("versionId"))


def _number(item: Mapping[str, Any]) -> Number:
    period = _mapping(item.get("period"))
    return Number(
        system=str(item.get("system", "")),
        value=str(item.get("value", "")),
        use=str(item.get("use", "")),
        begins=_text(period.get("start")),
        ends=_text(period.get("end")),
    )


def _name(item: Mapping[str, Any]) -> tuple[str, tuple[str, ...]]:
    given = item.get("given")
    return str(item.get("family", "")), tuple(str(word) for word in given) if isinstance(given, list) else ()


def _patient_id(other: object) -> str | None:
    found = re.search(
        r"(?:^|/)Patient/([A-Za-z0-9\-.]{1,64})(?:/_history/[^/]+)?$", str(_mapping(other).get("reference", ""))
    )
    return found[1] if found else None


def _text(value: object) -> str | None:
    return value if isinstance(value, str) and value else None


def _mapping(value: object) -> Mapping[str, Any]:
    return value if isinstance(value, Mapping) else {}


def _mappings(value: object) -> list[Mapping[str, Any]]:
    return [item for item in value if isinstance(item, Mapping)] if isinstance(value, list) else []
