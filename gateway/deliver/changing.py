"""Before anything of ours is changed in a record: what stands there now, and is it still what we put there?

A withdrawal and a correction overwrite. So everything that is to be overwritten is looked at first, and only a copy
in the very version that we know is replaced (again by If-Match, as somebody may come between).
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from gateway import fhir
from gateway.deliver.filing import Writing
from gateway.deliver.stopped import rejected
from gateway.deliver.talk import GONE
from gateway.fhir.copies import differences
from gateway.fhir.heard import as_mapping, as_text, version_of
from gateway.model import Filed, HoldReason, Identifier

CHANGED_RULE = "changed-in-the-record"
GONE_RULE = "gone-from-the-record"
Copies = Mapping[str, Mapping[str, Any]]
"""The one copy of each resource that the record holds, by our id."""


def ready_to_withdraw(writing: Writing, waived: frozenset[str]) -> None:
    """Take up what the record holds of a recording that is to be withdrawn: its subject, its versions, and what was
    stored without our knowing. What is not there is left out. Raises Stopped where a person must decide.

    The person is not looked up: the entry may be merged or closed by now, and the subject stays as it is.
    """
    writing.resources = _without_known_devices(writing)
    copies = _look(writing, waived)
    _take_up(writing, copies)
    writing.link = _subject(copies, writing.talk.base)
    _compare(writing, copies, waived)
    writing.resources = fhir.only_there(writing.resources, writing.ledger)


def ready_to_correct(writing: Writing, waived: frozenset[str]) -> None:
    """Take up what the record holds of a recording that is to be corrected, as for a withdrawal. The person was
    looked up: a correction never moves a result from one entry to another. Raises Stopped where a person must decide.
    """
    everything = writing.resources
    writing.resources = _without_known_devices(writing)
    copies = _look(writing, waived)
    _take_up(writing, copies)
    own = writing.link.reference
    if own is not None and {each.reference for each in _subjects(copies, writing.talk.base)} - {own}:
        raise rejected(HoldReason.RECORD_CONFLICT, "what was filed lies in another entry than the person's of now")
    _compare(writing, copies, waived)
    writing.resources = fhir.never_there(everything, writing.ledger)


def _without_known_devices(writing: Writing) -> tuple[fhir.Resource, ...]:
    """Only those devices are asked for to which the links are not known yet."""
    devices = {item.id for item in writing.resources if item.rank is fhir.Rank.DEVICE}
    known = devices & writing.ledger.keys()
    return tuple(item for item in writing.resources if item.id not in known)


def _take_up(writing: Writing, copies: Copies) -> None:
    """What was stored without our knowing is ours all the same."""
    for resource in writing.resources:
        copy = copies.get(resource.id)
        if copy is not None and resource.id not in writing.ledger:
            writing.ledger[resource.id] = Filed(
                resource_id=resource.id,
                resource_type=resource.type,
                server_id=str(copy.get("id")),
                version=version_of(copy),
                content_hash="",
                status=str(copy.get("status", "")),
            )


def _look(writing: Writing, waived: frozenset[str]) -> dict[str, Mapping[str, Any]]:
    """The copies of our resources, searched by the recording's identifier; what a search does not show is read."""
    searches = fhir.searches(writing.resources, writing.ledger)
    found = fhir.found(writing.resources, [body for search in searches for body in writing.talk.search(search)])
    copies = {}
    for resource in writing.resources:
        held = found.get(resource.id, ())
        if len(held) > 1:
            raise rejected(HoldReason.RECORD_CONFLICT, f"{len(held)} copies of one {resource.type}")
        if held:
            copies[resource.id] = held[0]
        elif (row := writing.ledger.get(resource.id)) is not None:
            if (body := _read(writing, row, waived)) is not None:
                copies[resource.id] = body
            else:
                del writing.ledger[resource.id]
    return copies


def _read(writing: Writing, row: Filed, waived: frozenset[str]) -> Mapping[str, Any] | None:
    """The resource; None where it is gone and a person let that pass."""
    body = writing.talk.read(f"{row.resource_type}/{row.server_id}", GONE)
    if body is None and GONE_RULE not in waived:
        raise rejected(HoldReason.RECORD_CONFLICT, f"a {row.resource_type} is not there any more", rule=GONE_RULE)
    return body


def _compare(writing: Writing, copies: Copies, waived: frozenset[str]) -> None:
    """Each copy that will be overwritten is in the version that we know, or says already what we would say."""
    rows = []
    for resource in writing.resources:
        row, copy = writing.ledger.get(resource.id), copies.get(resource.id)
        if resource.rank is fhir.Rank.DEVICE or row is None or copy is None:
            continue
        if fhir.is_filed(resource, writing.ledger):
            continue
        version = version_of(copy)
        if version is not None and version == row.version and row.content_hash:
            continue
        address = fhir.address_of(writing.resources, writing.link, writing.way, writing.ledger)
        if not differences(address.body(resource), copy):
            rows.append(fhir.filed_as(resource, row.server_id, version))  # an earlier attempt got so far
        elif not row.content_hash or version is None or CHANGED_RULE in waived:
            writing.ledger[resource.id] = replace(row, version=version)
        else:
            detail = f"{resource.type} in version {version} instead of {row.version}"
            raise rejected(HoldReason.RECORD_CONFLICT, detail, rule=CHANGED_RULE)
    writing.keep(rows)


def _subject(copies: Copies, base: str) -> fhir.PatientLink:
    """Whose our resources are, as the record says itself. Raises Stopped where they are of more than one."""
    found = _subjects(copies, base)
    if len(found) > 1:
        raise rejected(HoldReason.RECORD_CONFLICT, "what was filed lies in more than one person's entry")
    return next(iter(found), fhir.PatientLink())


def _subjects(copies: Copies, base: str) -> set[fhir.PatientLink]:
    return {_link(as_mapping(copy["subject"]), base) for copy in copies.values() if "subject" in copy}


def _link(subject: Mapping[str, Any], base: str) -> fhir.PatientLink:
    reference = as_text(subject.get("reference"))
    if reference is not None:
        return fhir.PatientLink(reference=reference.removeprefix(f"{base}/"))
    number = as_mapping(subject.get("identifier"))
    system, value = as_text(number.get("system")), as_text(number.get("value"))
    return fhir.PatientLink(identifier=Identifier(system or "", value or ""))
