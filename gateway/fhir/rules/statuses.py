"""Rules on single resource types: what each must carry, and the closed lists that the models do not look at."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from gateway.fhir.identity import SYSTEM
from gateway.fhir.rules.walking import Fault, mappings

_SETTLED = {"preliminary", "final", "amended", "entered-in-error"}
_DIAGNOSTIC = _SETTLED | {"registered", "corrected", "cancelled", "unknown"}
STATUSES: Mapping[str, frozenset[str]] = {
    "Observation": frozenset(_DIAGNOSTIC),
    "DiagnosticReport": frozenset(_DIAGNOSTIC | {"partial", "appended"}),
    "DocumentReference": frozenset({"current", "superseded", "entered-in-error"}),
    "Device": frozenset({"active", "inactive", "entered-in-error", "unknown"}),
}
NEEDED: Mapping[str, tuple[str, ...]] = {
    "Observation": ("identifier", "status", "category", "code", "subject", "issued", "performer", "text"),
    "DiagnosticReport": (
        "identifier", "status", "category", "code", "subject", "issued", "performer", "result", "conclusion", "text",
    ),
    "DocumentReference": ("identifier", "status", "docStatus", "type", "subject", "date", "content", "text"),
    "Device": ("identifier", "status", "type", "text"),
    "Binary": ("contentType", "securityContext", "meta"),
    "Provenance": ("target", "recorded", "agent", "entity", "meta", "text"),
}  # fmt: skip
DEVICE_NAMES = frozenset(
    {"udi-label-name", "user-friendly-name", "patient-reported-name", "manufacturer-name", "model-name", "other"}
)


def type_faults(body: Mapping[str, Any]) -> Iterator[Fault]:
    """All faults against what its type must carry."""
    kind = str(body.get("resourceType"))
    if kind not in NEEDED:
        yield Fault("resourceType", "is not one that we file")
        return
    for element in NEEDED[kind]:
        if element not in body:
            yield Fault(element, "is missing")
    if kind in STATUSES and str(body.get("status")) not in STATUSES[kind]:
        yield Fault("status", f"is no status of {kind}")
    yield from _subject(body)
    if rule := _OWN.get(kind):
        yield from rule(body)


def _subject(body: Mapping[str, Any]) -> Iterator[Fault]:
    if "subject" not in body:
        return
    subject = body["subject"] if isinstance(body["subject"], Mapping) else {}
    reference = str(subject.get("reference", ""))
    number = subject.get("identifier")
    number = number if isinstance(number, Mapping) else {}
    if reference and not reference.startswith("Patient/"):
        yield Fault("subject", "is not a Patient")
    if not reference and not (number.get("system") and number.get("value")):
        yield Fault("subject", "names nobody")


def _identified(body: Mapping[str, Any]) -> Iterator[Fault]:
    ours = [str(item.get("value")) for item in mappings(body.get("identifier")) if item.get("system") == SYSTEM]
    wanted = 1 if body.get("resourceType") == "Device" else 2
    if len(set(ours)) != wanted or len(ours) != wanted:
        yield Fault("identifier", "must be its own, and the recording's where it belongs to one")


def _device(body: Mapping[str, Any]) -> Iterator[Fault]:
    yield from _identified(body)
    for index, name in enumerate(mappings(body.get("deviceName"))):
        if str(name.get("type")) not in DEVICE_NAMES:
            yield Fault(f"deviceName[{index}].type", "is no kind of device name")


def _report(body: Mapping[str, Any]) -> Iterator[Fault]:
    yield from _identified(body)
    if not ("effectivePeriod" in body) ^ ("effectiveDateTime" in body):
        yield Fault("effectivePeriod", "is missing, or there are two")


def _document(body: Mapping[str, Any]) -> Iterator[Fault]:
    yield from _identified(body)
    if str(body.get("docStatus")) not in _SETTLED:
        yield Fault("docStatus", "is no document status")
    for index, content in enumerate(mappings(body.get("content"))):
        if "attachment" not in content:
            yield Fault(f"content[{index}]", "holds no attachment")


def _tagged(body: Mapping[str, Any]) -> Iterator[Fault]:
    meta = body.get("meta")
    tags = mappings(meta.get("tag")) if isinstance(meta, Mapping) else []
    if not any(tag.get("system") == SYSTEM for tag in tags):
        yield Fault("meta.tag", f"must carry our id, because a {body.get('resourceType')} has no identifier")


def _provenance(body: Mapping[str, Any]) -> Iterator[Fault]:
    yield from _tagged(body)
    for index, agent in enumerate(mappings(body.get("agent"))):
        if "who" not in agent:
            yield Fault(f"agent[{index}]", "names nobody")


_OWN: Mapping[str, Callable[[Mapping[str, Any]], Iterator[Fault]]] = {
    "Observation": _identified,
    "Device": _device,
    "Binary": _tagged,
    "DiagnosticReport": _report,
    "DocumentReference": _document,
    "Provenance": _provenance,
}
