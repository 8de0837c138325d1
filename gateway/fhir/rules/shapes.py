"""Rules that hold for every element of every resource: nothing empty, exact times, honest base64, whole links."""

import re
from base64 import b64decode, b64encode
from binascii import Error as Base64Error
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from hashlib import sha1
from typing import Any

from gateway.fhir.rules.narratives import div_faults
from gateway.fhir.rules.walking import Fault, Node

INSTANTS = frozenset({"effectiveDateTime", "issued", "recorded", "start", "end", "date", "creation", "time"})
INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")
ID = re.compile(r"[A-Za-z0-9\-.]{1,64}")
LINK = re.compile(r"urn:uuid:[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
ABSOLUTE = re.compile(r"(https?://|urn:)")
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
EMPTY = "is empty; an element is left out when there is nothing to say"
RELATIVE = re.compile(r"(?P<type>[A-Z][A-Za-z]+)/[A-Za-z0-9\-.]{1,64}(/_history/[A-Za-z0-9\-.]{1,64})?")
CODES: Mapping[str, frozenset[str]] = {
    "comparator": frozenset({"<", "<=", ">=", ">"}),
    "use": frozenset({"usual", "official", "temp", "secondary", "old"}),
    "role": frozenset({"derivation", "revision", "quotation", "source", "removal"}),
}
"""Required bindings of R4 that the models do not look at, by element name (as far as we use them)."""


def shape_faults(nodes: Sequence[Node]) -> Iterator[Fault]:
    """All faults of form in one resource, given as its nodes."""
    for node in nodes:
        if fault := _plain(node.value):
            yield Fault(node.path, fault)
        if rule := _BY_NAME.get(node.name):
            yield from rule(node)
        if isinstance(node.value, dict):
            yield from _period(node)
            yield from _attachment(node)


def _plain(value: Any) -> str:
    """What is wrong with a value whatever it stands for, "" for nothing."""
    if isinstance(value, str):
        if not value:
            return EMPTY
        if value != value.strip():
            return "has blanks at its edge"
        return "holds a control character" if CONTROL.search(value) else ""
    if isinstance(value, dict | list | tuple):
        return "" if value else EMPTY
    if isinstance(value, bool | int):
        return ""
    if isinstance(value, Decimal):
        return "" if value.is_finite() else "is not a finite number"
    return EMPTY if value is None else f"is a {type(value).__name__}, which has no exact form in JSON"


def _instant(node: Node) -> Iterator[Fault]:
    if not _is_instant(node.value):
        yield Fault(node.path, "is not a time with seconds and offset")


def _period(node: Node) -> Iterator[Fault]:
    if not node.name.endswith(("Period", "period")):
        return
    start, end = node.value.get("start"), node.value.get("end")
    if not (_is_instant(start) and _is_instant(end)):
        yield Fault(node.path, "needs start and end")
    elif datetime.fromisoformat(str(start)) > datetime.fromisoformat(str(end)):
        yield Fault(node.path, "ends before it starts")


def _identity(node: Node) -> Iterator[Fault]:
    if node.path == "id" and not ID.fullmatch(str(node.value)):
        yield Fault(node.path, "is not a FHIR id (1 to 64 letters, digits, '-' and '.')")


def _reference(node: Node) -> Iterator[Fault]:
    value = str(node.value)
    if not LINK.fullmatch(value) and not RELATIVE.fullmatch(value):
        yield Fault(node.path, "is neither urn:uuid of ours nor Type/id")


def _code(node: Node) -> Iterator[Fault]:
    allowed = CODES[node.name]
    if str(node.value) not in allowed:
        yield Fault(node.path, f"is none of {', '.join(sorted(allowed))}")


def _extension(node: Node) -> Iterator[Fault]:
    if not isinstance(node.value, dict):
        return
    values = [key for key in node.value if key.startswith("value")]
    if not ABSOLUTE.match(str(node.value.get("url", ""))):
        yield Fault(node.path, "needs an absolute url")
    if len(values) + ("extension" in node.value) != 1:
        yield Fault(node.path, "needs exactly one value, or extensions of its own (ext-1)")


def _attachment(node: Node) -> Iterator[Fault]:
    value = node.value
    if "contentType" not in value:
        return
    if "url" in value:
        yield from _elsewhere(node)
    if "data" not in value:
        return
    try:
        content = b64decode(str(value["data"]), validate=True)
    except (Base64Error, ValueError):
        yield Fault(f"{node.path}.data", "is not base64")
        return
    if value["contentType"] == "application/pdf" and not content.startswith(b"%PDF-"):
        yield Fault(f"{node.path}.data", "is not a PDF")
    if value.get("resourceType") == "Binary":  # has neither size nor hash; the attachment that names it has both
        return
    if value.get("size") != len(content):
        yield Fault(f"{node.path}.size", "is not the number of bytes")
    if value.get("hash") != b64encode(sha1(content, usedforsecurity=False).digest()).decode():
        yield Fault(f"{node.path}.hash", "is not the SHA-1 of the bytes")


def _elsewhere(node: Node) -> Iterator[Fault]:
    """An attachment whose bytes lie in a Binary: it still says how many there are, and their hash."""
    url = str(node.value["url"])
    place = RELATIVE.fullmatch(url)
    if not LINK.fullmatch(url) and not (place and place["type"] == "Binary"):
        yield Fault(f"{node.path}.url", "is neither urn:uuid of ours nor Binary/id")
    if "data" in node.value:
        yield Fault(f"{node.path}.data", "stands beside a url, so the page would be filed twice")
    if not {"size", "hash"} <= node.value.keys():
        yield Fault(node.path, "needs size and hash of what lies elsewhere")


def _narrative(node: Node) -> Iterator[Fault]:
    if node.path != "text" or not isinstance(node.value, Mapping):
        return
    if str(node.value.get("status")) not in ("generated", "extensions", "additional", "empty"):
        yield Fault("text.status", "is no narrative status")
    for what in div_faults(str(node.value.get("div", ""))):
        yield Fault("text.div", what)


def _is_instant(value: Any) -> bool:
    if not isinstance(value, str) or not INSTANT.fullmatch(value):
        return False
    try:
        datetime.fromisoformat(value)
    except ValueError:
        return False
    return True


_BY_NAME: Mapping[str, Callable[[Node], Iterator[Fault]]] = {
    **dict.fromkeys(INSTANTS, _instant),
    **dict.fromkeys(CODES, _code),
    "id": _identity,
    "reference": _reference,
    "extension": _extension,
    "text": _narrative,
}
