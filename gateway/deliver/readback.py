"""After writing: is it really there, once, and does it still say what was sent?"""

import time
from collections.abc import Mapping, Sequence
from typing import Any

from gateway import fhir
from gateway.deliver.filing import REPORT_RULE, Writing
from gateway.deliver.stopped import rejected
from gateway.fhir.copies import differences
from gateway.fhir.heard import version_of
from gateway.model import Filed, HoldReason

PAUSES = (0.0, 0.5, 1.5, 3.0)
"""Seconds before each look: on many servers a search shows a little later what was stored."""


def read_back(writing: Writing, waived: frozenset[str]) -> list[Filed]:
    """Compare what the server holds with what was sent; rows with the versions it shows now.

    The report is read by its id, everything is counted by the recording's identifier. Raises Stopped.
    """
    whole = REPORT_RULE not in waived and not writing.report_left_out
    copies = _counted(writing)
    rows = []
    for resource in writing.resources:
        filed = writing.ledger[resource.id]
        found = copies.get(resource.id, ())
        if len(found) > 1:
            raise rejected(HoldReason.RECORD_CONFLICT, f"{len(found)} copies of one {resource.type}")
        held = found[0] if found and not fhir.is_print(resource) else _read(writing, filed)
        if held.get("id") != filed.server_id:
            raise rejected(HoldReason.RECORD_CONFLICT, f"{resource.type} lies under another id than was said")
        sent = fhir.address_of(writing.resources, writing.link, writing.way, writing.ledger).body(resource)
        if places := differences(sent if whole else _without_print(sent), held):
            raise rejected(HoldReason.RECORD_INCOMPLETE, f"{resource.type} differs in {', '.join(places[:5])}")
        rows.append(fhir.filed_as(resource, filed.server_id, version_of(held) or filed.version))
    return rows


def _counted(writing: Writing) -> dict[str, tuple[Mapping[str, Any], ...]]:
    """Copies by our id, asked again a few times while some are missing."""
    counted = [resource for resource in writing.resources if resource.type != "Binary"]  # no search finds that
    copies: dict[str, tuple[Mapping[str, Any], ...]] = {}
    for pause in PAUSES:
        time.sleep(min(pause, max(writing.talk.time_left(), 0.0)))
        searches = fhir.searches(writing.resources, writing.ledger)
        bodies = [body for search in searches for body in writing.talk.search(search)]
        copies = fhir.found(writing.resources, bodies)
        if all(resource.id in copies for resource in counted):
            break
    return copies


def _read(writing: Writing, filed: Filed) -> Mapping[str, Any]:
    body = writing.talk.read(f"{filed.resource_type}/{filed.server_id}")
    if body is None:
        raise rejected(HoldReason.RECORD_INCOMPLETE, f"a {filed.resource_type} is not there")
    return body


def _without_print(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _without_print(item) for key, item in value.items() if key != "data"}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_without_print(item) for item in value]
    return value
