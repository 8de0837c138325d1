"""A recording that is filed already beside the same one as it is now: what is sent to put the records right.

Pure but for the store's values that go through it. A correction carries everything under the ids that the record
knows; what is the same keeps its bytes and is not written again (`gateway.fhir.correct`).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from gateway import fhir
from gateway.errors import ContentFault
from gateway.intake import Considered, Route, Tools, make, parcel_for, where_to
from gateway.model import Act, Waiver
from gateway.model.changes import Changes
from gateway.store import KnownRecording, Latest, NewDelivery, Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """Another file of a recording that is known: of which, what stands of that in the records, what differs."""

    known: KnownRecording
    standing: Standing
    changes: Changes


@dataclass(frozen=True, slots=True, kw_only=True)
class NewResult:
    """What a correction is made of. `gone` as in `fhir.Correction`; `signed`: who signed the new result off;
    `amends` as in `fhir.Correction`; `only_prints`: a result that differs in nothing but its printed words is worth
    sending.
    """

    considered: Considered
    tools: Tools
    identity: fhir.Identity
    gone: frozenset[float] | None
    amends: bool = False
    signed: Waiver | None = None
    only_prints: bool = True


def deliveries(standing: Standing, result: NewResult, now: datetime) -> Iterator[NewDelivery]:
    """What each destination gets; nothing for one that holds all of it. Where something of the recording is, the
    correction goes, whatever the settings say of new recordings. Raises ContentFault.
    """
    latest = {each.destination: each for each in standing.latest}
    for route, kept_back in where_to(result.considered, result.tools):
        there = latest.get(route.filing.destination)
        content: bytes | None = None
        if there is not None and there.in_record:
            content = _correction(route, there, result, now)
        elif kept_back is None:
            made = make(result.considered, result.tools, now, result.signed)
            content = fhir.pack(parcel_for(route, made, result.identity, result.tools, now))
        if content is not None:
            act = Act.FILE if there is None else Act.CORRECT
            way = there.way if there is not None else None
            yield NewDelivery(destination=route.filing.destination, act=act, content=content, way=way)


def told_of(standing: Standing, sent: NewDelivery) -> str:
    """How many entries of a record are added, changed, taken back by a correction."""
    latest = next((each for each in standing.latest if each.destination == sent.destination and each.in_record), None)
    before = {item.id for item in fhir.unpack(latest.content).resources} if latest else set()
    resources = fhir.unpack(sent.content).resources
    revised = fhir.revised(resources)
    touched = [item for item in resources if item.id in revised]
    gone = sum(item.body.get("status") == fhir.GONE for item in touched)
    new = sum(item.id not in before for item in touched)
    return f"to {sent.destination}: {new} entries added, {len(touched) - new - gone} changed, {gone} taken back"


def changes_values(sent: NewDelivery) -> bool:
    """Would any Observation of a record change by it, or come or go?"""
    return _values_touched(fhir.unpack(sent.content).resources)


def _correction(route: Route, there: Latest, result: NewResult, now: datetime) -> bytes | None:
    tools, before = result.tools, fhir.unpack(there.content)
    made = make(result.considered, tools, now, result.signed, _replaces(before, result))
    composed = parcel_for(route, made, result.identity, tools, now)
    at = now.astimezone(composed.ended.tzinfo)
    how = fhir.Correction(
        identity=result.identity,
        codes=tools.codes,
        profile=route.profile,
        notice=fhir.Notice(at=at, page=None, language=tools.language),
        gone=result.gone,
        amends=result.amends,
    )
    resources = fhir.correct(before.resources, composed.resources, how)
    if not resources or (not result.only_prints and not _values_touched(resources)):
        return None
    if faults := fhir.check(resources, tools.codes, frozenset(item.id for item in before.resources)):
        raise ContentFault(faults)
    return fhir.pack(fhir.Parcel(person=made.recording.person, ended=made.recording.ended, resources=resources))


def is_signed(standing: Standing) -> bool:
    """Does the report say in every record who looked at it?"""
    reports = [_report(fhir.unpack(each.content)) for each in standing.latest if each.in_record]
    return all("resultsInterpreter" in report.body for report in reports)


def _replaces(before: fhir.Parcel, result: NewResult) -> datetime | None:
    """When the result was made that is corrected, as its report says. To sign a first result off corrects nothing."""
    if result.signed is not None and not fhir.is_correction(before.resources):
        return None
    return datetime.fromisoformat(_report(before).body["issued"])


def _report(parcel: fhir.Parcel) -> fhir.Resource:
    return next(item for item in parcel.resources if item.type == "DiagnosticReport")


def _values_touched(resources: tuple[fhir.Resource, ...]) -> bool:
    revised = fhir.revised(resources)
    return any(item.type == "Observation" and item.id in revised for item in resources)
