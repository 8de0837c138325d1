"""The result as a clinician opens it: DiagnosticReport with conclusion and printed page.

The page stands inside the report (or a DocumentReference) as an attachment; where a server limits the size of that,
in a Binary of its own, which the attachment names. R4's Binary has no identifier, so a tag carries ours. A PDF of the
monitor's own software goes the same way, after our page or instead of it, under a title of its own.
"""

from base64 import b64encode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
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
COMPANION = "Report of the monitor's own software"
REPLACES = "Corrected result: it replaces the one of {when}."
UNREVIEWED = "Automated, not yet reviewed."
PDF = "application/pdf"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Page:
    """One PDF to be filed. `role` tells its ids from those of the other; `ours`: we made it, so we know when and in
    which language.
    """

    content: bytes
    title: str
    role: str
    ours: bool


def report(
    scope: Scope, results: Sequence[Resource], page: bytes | None, companion: bytes | None = None
) -> Iterator[Resource]:
    """The report over the given results; `page` is the printed page (PDF), `companion` the one that the monitor's own
    software made; each is filed once, where the site wants it.

    A destination that wants values only gets no page either: pages interpret.
    """
    choice = scope.filing.report if scope.filing.interpretation else ReportChoice.NONE
    pages = () if choice is ReportChoice.NONE else tuple(_pages(scope, page, companion))
    if scope.filing.report_binary:
        for each in pages:  # with the summaries, because whatever points at it is written later
            yield Resource(Rank.SUMMARY, _binary(scope, each))
    inside = pages if choice is ReportChoice.DIAGNOSTIC_REPORT else ()
    yield Resource(Rank.REPORT, claiming(scope, Claim.REPORT, _diagnostic_report(scope, results, inside)))
    if choice is ReportChoice.DOCUMENT_REFERENCE:
        for each in pages:
            yield Resource(Rank.REPORT, _document_reference(scope, each))


def _pages(scope: Scope, page: bytes | None, companion: bytes | None) -> Iterator[_Page]:
    if page:
        yield _Page(content=page, title=scope.say(TITLE), role="", ours=True)
    if companion:
        yield _Page(content=companion, title=scope.say(COMPANION), role="companion ", ours=False)


def conclusion(scope: Scope) -> tuple[str, ...]:
    """The conclusion in four lines at most: what to look at first, whether it is good enough, averages, the rest."""
    summary = scope.summary
    first, *others = summary.narrative
    if not scope.filing.interpretation:
        good = adequacy_note(scope) or scope.say("Good enough by the rule of {rule}.", rule=summary.adequacy.rule)
        first, others = (), [(good, scope.say("Values and adequacy only: this record takes no interpretation."))]
    if summary.review.sentence and summary.review.sentence not in first:
        first = (summary.review.sentence, *first)
    if summary.historical:
        first = (scope.say("Historical recording, analysed on {date}.", date=scope.issued.date()), *first)
    if scope.filing.replaces is not None:
        first = (scope.say(REPLACES, when=f"{scope.filing.replaces:%Y-%m-%d %H:%M}"), *first)
    if scope.filing.report_status != "final":
        first = (scope.say(UNREVIEWED), *first)
    return tuple(" ".join(line) for line in (first, *others) if line)


def _diagnostic_report(scope: Scope, results: Sequence[Resource], pages: Sequence[_Page]) -> Element:
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
        presentedForm=[_pdf(scope, each) for each in pages],
    )


def _values(results: Sequence[Resource]) -> str:
    """The means of the periods as one line, for a conclusion that does not name them."""
    lines = []
    for item in results:
        values = [
            str(part["valueQuantity"]["value"])
            for part in item.body["component"][:2]
            if item.body["category"][0]["coding"][0]["code"] == "vital-signs" and "valueQuantity" in part
        ]
        if values:
            lines.append(f"{item.body['code']['text']}: {'/'.join(values)} mmHg")
    return paragraphs(["; ".join(lines)] if lines else [])


def _document_reference(scope: Scope, page: _Page) -> Element:
    document_id = scope.identity.uuid(f"{page.role}document")
    return filled(
        resourceType="DocumentReference",
        id=document_id,
        language=scope.language.id,
        text=narrative(page.title, language=scope.language.id),
        identifier=identifiers(scope, document_id),
        status="current",
        docStatus=scope.filing.report_status,
        type=concept(scope, "report"),
        subject=subject(scope),
        date=moment(scope.issued),
        author=performer(scope) if page.ours else None,
        description=page.title,
        content=[{"attachment": _pdf(scope, page)}],
        context={"period": span(scope.recording.began, scope.recording.ended)},
    )


def _binary(scope: Scope, page: _Page) -> Element:
    """Who may see the person may see the page: `securityContext` names the person."""
    own = _print_id(scope, page)
    return {
        "resourceType": "Binary",
        "id": own,
        "meta": {"tag": [{"system": SYSTEM, "code": f"urn:uuid:{own}"}]},
        "contentType": PDF,
        "securityContext": subject(scope),
        "data": b64encode(page.content).decode(),
    }


def _print_id(scope: Scope, page: _Page) -> str:
    return scope.identity.uuid(f"{page.role}print")


def _pdf(scope: Scope, page: _Page) -> Element:
    made, language = (scope.issued, scope.language.id) if page.ours else (None, None)
    inside = pdf_of(page.content, page.title, made, language)
    if not scope.filing.report_binary:
        return inside
    del inside["data"]
    return inside | {"url": f"urn:uuid:{_print_id(scope, page)}"}


def pdf_of(page: bytes, title: str, made: datetime | None, language: str | None) -> Element:
    """A PDF as an Attachment; None: nobody knows when it was made or in which language. R4 wants a SHA-1 in `hash`:
    against accidents, not against attackers (those meet the audit log).
    """
    return filled(
        contentType=PDF,
        language=language,
        data=b64encode(page).decode(),
        size=len(page),
        hash=b64encode(sha1(page, usedforsecurity=False).digest()).decode(),
        title=title,
        creation=moment(made) if made else None,
    )
