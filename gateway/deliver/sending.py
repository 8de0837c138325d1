"""One part as a request, and what of its answer is believed. No state, no network."""

from collections.abc import Sequence
from datetime import datetime
from enum import StrEnum

from gateway import fhir
from gateway.deliver.outcome import Shape, Verdict, meaning, of_shape, row_of, wish
from gateway.deliver.stopped import Stopped
from gateway.deliver.wire import Request
from gateway.fhir.heard import EntryAnswer

JSON = {"Content-Type": "application/fhir+json"}


class Bundles(StrEnum):
    """How many resources one request carries, and whether they stand or fall together. Closed list."""

    TRANSACTION = "transaction"
    BATCH = "batch"
    NONE = "none"
    """one resource at a time"""


def request_of(part: fhir.Part, base: str, bundles: Bundles) -> Request:
    """The request that writes this part."""
    if bundles is Bundles.NONE:
        return _single(part, base)
    return Request(method="POST", address=base, headers=JSON, content=part.content, writes=True)


def _single(part: fhir.Part, base: str) -> Request:
    entry = part.entries[0]
    asked = part.bundle["entry"][0]["request"]
    headers = dict(JSON)
    if "ifMatch" in asked:
        headers["If-Match"] = asked["ifMatch"]
    if "ifNoneExist" in asked:
        headers["If-None-Exist"] = asked["ifNoneExist"]
    return Request(
        method=entry.method,
        address=f"{base}/{asked['url']}",
        headers=headers,
        content=fhir.written(entry.body),
        writes=True,
    )


def place_of(entry: fhir.Entry, answer: EntryAnswer, after: str | None, now: datetime, masked: Sequence[str]) -> str:
    """The server's id for an entry that it accepted; raises Stopped for anything else.

    `after`: the Retry-After of the whole answer, for an entry that brings none of its own.
    """
    if answer.status is None:
        raise Stopped(of_shape(Shape.NO_STATUS))
    if verdict := meaning(answer.status, answer.outcome, wish(answer.retry_after or after, now), True, masked):
        raise Stopped(verdict, ask=row_of(answer.status).verdict is Verdict.ASK)
    if answer.status not in (200, 201):
        raise Stopped(of_shape(Shape.OTHER_STATUS))
    server_id = answer.server_id or entry.server_id
    if server_id is None:
        raise Stopped(of_shape(Shape.NO_PLACE))
    return server_id
