"""The result as a clinician opens it: DiagnosticReport with conclusion and printed page.

The page stands inside the report (or a DocumentReference) as an attachment; where a server limits the size of that,
in a Binary of its own, which the attachment names. R4's Binary has no identifier, so a tag carries ours.
"""

from base64 import b64encode
from collections.abc import Iterator, Sequence
from datetime import datetime
from hashlib import sha1

from gateway.fhir.content import Rank, Resource
from gateway.fhir.elements import (
    Element,
    Scope,
    based_on,
    claiming,
    concept,
    filled,
    identifiers,
    link,
    moment,
    performer,
    plain,
    span,
    subject,
)
from gateway.fhir.identity import SYSTEM
from gateway.fhir.narrative import narrative, paragraphs
from gateway.fhir.statements import adequacy_note
from gateway.mapping.profile import Claim
from gateway.model import ReportChoice

TITLE = "Ambulatory blood pressure recording"
UNREVIEWED = "Automated, not yet reviewed."
PDF = "application/pdf"


def report(scope: Scope, results: Sequence[Resource], page: bytes | None) -> Iterator[Resource]:
    """The report over the given results; `page` is the printed page (PDF), filed once, where the site wants it.

    A destination that wants values only gets no page either: the page interprets.
    """
    choice = scope.filing.report if page and scope.filing.interpretation else ReportChoice.NONE
    inside = page if choice is ReportChoice.DIAGNOSTIC_REPORT else None
    if page and choice is not ReportChoice.NONE and scope.filing.report_binary:
        # with the summaries, because whatever points at it is written later
        yield Resource(Rank.SUMMARY, _binary(scope, page))
    yield Resource(Rank.REPORT, claiming(scope, Claim.REPORT, _diagnostic_report(scope, results, inside)))
    if page and choice is ReportChoice.DOCUMENT_REFERENCE:
        yield Resource(Rank.REPORT, _document_reference(scope, page))


def conclusion(scope: Scope) -> tuple[str, ...]:
    """The sentences of the conclusion, most important first."""
    summary = scope.summary
    sentences = list(summary.conclusion)
    if not scope.filing.interpretation:
        good = scope.say("Good enough by the rule of {rule}.", rule=summary.adequacy.rule)
        sentences = [adequacy_note(scope) or good]
        sentences.append(scope.say("Values and adequacy only: this record takes no interpretation."))
    if summary.review.sentence and summary.review.sentence not in sentences:
        sentences.insert(0, summary.review.sentence)
    if summary.historical:
        sentences.insert(0, scope.say("Historical recording, analysed on {date}.", date=scope.issued.date()))
    if scope.filing.report_status != "final":
        sentences.insert(0, scope.say(UNREVIEWED))
    return tuple(sentences)


def _diagnostic_report(scope: Scope, results: Sequence[Resource], page: bytes | None) -> Element:
    report_id = scope.identity.uuid("report")
    sentences = conclusion(scope)
    return filled(
        resourceType="DiagnosticReport",
        id=report_id,
        language=scope.language.id,
        text=narrative(
            scope.say(TITLE),
            paragraphs(sentences),
            "" if scope.filing.interpretation else _values(results),
            language=scope.language.id,
        ),
        identifier=identifiers(scope, report_id),
        basedOn=based_on(scope),
        status=scope.filing.report_status,
        category=[concept(scope, "report-category-cardiology"), concept(scope, "report-category-section")],
        code=concept(scope, "report"),
        subject=subject(scope),
        effectivePeriod=span(scope.recording.began, scope.recording.ended),
        issued=moment(scope.issued),
        performer=performer(scope),
        resultsInterpreter=[{"display": by}] if (by := plain(scope.filing.signed_off_by)) else None,
        result=[link(item.id) | {"display": item.body["code"]["text"]} for item in results],
        conclusion="\n".join(sentences),
        presentedForm=[_pdf(scope, page)] if page else None,
    )


def _values(results: Sequence[Resource]) -> str:
    """The means of each period as one line, for a conclusion that does not name them."""
    lines = []
    for item in results:
        values = [
            str(part["valueQuantity"]["value"])
            for part in item.body["component"][:2]
            if item.body["category"][0]["coding"][0]["code"] == "vital-signs" and "valueQuantity" in part
        ]
        if values:
            lines.append(f"{item.body['code']['text']}: {'/'.join(values)} mmHg")
    return paragraphs(lines)


def _document_reference(scope: Scope, page: bytes) -> Element:
    document_id = scope.identity.uuid("document")
    return filled(
        resourceType="DocumentReference",
        id=document_id,
        language=scope.language.id,
        text=narrative(scope.say(TITLE), language=scope.language.id),
        identifier=identifiers(scope, document_id),
        status="current",
        docStatus=scope.filing.report_status,
        type=concept(scope, "report"),
        subject=subject(scope),
        date=moment(scope.issued),
        author=performer(scope),
        description=scope.say(TITLE),
        content=[{"attachment": _pdf(scope, page)}],
        context={"period": span(scope.recording.began, scope.recording.ended)},
    )


def _binary(scope: Scope, page: bytes) -> Element:
    """Who may see the person may see the page: `securityContext` names the person."""
    own = scope.identity.uuid("print")
    return {
        "resourceType": "Binary",
        "id": own,
        "meta": {"tag": [{"system": SYSTEM, "code": f"urn:uuid:{own}"}]},
        "contentType": PDF,
        "securityContext": subject(scope),
        "data": b64encode(page).decode(),
    }


def _pdf(scope: Scope, page: bytes) -> Element:
    inside = pdf_of(page, scope.say(TITLE), scope.issued, scope.language.id)
    if not scope.filing.report_binary:
        return inside
    del inside["data"]
    return inside | {"url": f"urn:uuid:{scope.identity.uuid('print')}"}


def pdf_of(page: bytes, title: str, made: datetime, language: str) -> Element:
    """A PDF as an Attachment. R4 wants a SHA-1 in `hash`: against accidents, not against attackers (those meet the
    audit log).
    """
    return {
        "contentType": PDF,
        "language": language,
        "data": b64encode(page).decode(),
        "size": len(page),
        "hash": b64encode(sha1(page, usedforsecurity=False).digest()).decode(),
        "title": title,
        "creation": moment(made),
    }
