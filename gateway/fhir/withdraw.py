"""What was filed -> what stands in its place once it is withdrawn: entered in error, a notice for the result."""

from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from gateway.fhir.address import LINK
from gateway.fhir.content import Rank, Resource
from gateway.fhir.elements import Element, coding_of, filled, link, moment
from gateway.fhir.identity import SYSTEM, Identity
from gateway.fhir.narrative import narrative, paragraphs
from gateway.fhir.report import pdf_of
from gateway.mapping.codes import Codes
from gateway.mapping.language import ENGLISH, Language
from gateway.model import Filed
from gateway.model.phrase import Phrase

GONE = "entered-in-error"
ENDED = frozenset({GONE, "superseded"})
"""statuses of what no longer counts"""
RANKS = {Rank.READING: Rank.READING, Rank.SUMMARY: Rank.SUMMARY, Rank.REPORT: Rank.NOTICE}


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """What is said in place of the result. `at` is when it was decided, `page` the printed notice or None."""

    at: datetime
    page: bytes | None
    language: Language = ENGLISH

    @property
    def headline(self) -> str:
        """One word, for titles."""
        return self.language.tell(Phrase("Withdrawn"))

    @property
    def sentences(self) -> tuple[str, ...]:
        """The notice in words: no person is named, as it stands in the record of the wrong one."""
        when = f"{self.at:%Y-%m-%d %H:%M}"
        phrases = (
            Phrase("This result was withdrawn on {when} (UTC{offset}).", when=when, offset=self.at.isoformat()[-6:]),
            Phrase("It was filed in error. Do not use any of its values."),
            Phrase("The history of this entry keeps what was shown before."),
        )
        return tuple(self.language.tell(phrase) for phrase in phrases)


def withdraw(filed: Sequence[Resource], identity: Identity, codes: Codes, notice: Notice) -> tuple[Resource, ...]:
    """Everything that was filed of one recording as it stands once withdrawn, and the Provenance of that.

    The subject stays, devices are left alone, the report goes first. `filed` are the resources as they were sent
    last. Raises ValueError where nothing of them can be withdrawn.
    """
    wanted = [item for item in filed if item.rank in RANKS and item.body.get("status") != GONE]
    if not wanted:
        raise ValueError("nothing of this recording can be withdrawn")
    gone = [Resource(RANKS[item.rank], gone_in_place(item.body, notice)) for item in wanted]
    gone.sort(key=lambda item: item.rank)
    return (*gone, _provenance(gone, identity, codes, notice))


def only_there(resources: Sequence[Resource], ledger: Mapping[str, Filed]) -> tuple[Resource, ...]:
    """The part of a withdrawal that one record needs: what it never got is not created in order to be withdrawn, and
    devices are left alone.
    """
    wanted = [item for item in resources if item.rank is not Rank.DEVICE]
    return _with_provenance(wanted, [item for item in wanted if item.id in ledger])


def never_there(resources: Sequence[Resource], ledger: Mapping[str, Filed]) -> tuple[Resource, ...]:
    """A correction without what one record never got and would only be told to be gone."""
    return _with_provenance(
        resources, [item for item in resources if item.body.get("status") not in ENDED or item.id in ledger]
    )


def _with_provenance(resources: Sequence[Resource], kept: Sequence[Resource]) -> tuple[Resource, ...]:
    ids = {item.id for item in kept if item.rank is not Rank.PROVENANCE}
    provenance = [_narrowed(item, ids) for item in resources if item.rank is Rank.PROVENANCE]
    return (*(item for item in kept if item.rank is not Rank.PROVENANCE), *(provenance if ids else ()))


def gone_in_place(body: Mapping[str, Any], notice: Notice) -> Element:
    """A resource as it stands once it is entered in error, with the notice for its text."""
    if body["resourceType"] == "Binary":  # a printed page by itself: the notice takes its place, else nothing does
        page = {"data": b64encode(notice.page).decode()} if notice.page else {}
        return {name: value for name, value in body.items() if name != "data"} | page
    said = {
        "status": GONE,
        "issued": moment(notice.at),
        "language": notice.language.id,
        "text": narrative(notice.headline, paragraphs(notice.sentences), language=notice.language.id),
    }
    changed = {name: value for name, value in body.items() if name != "meta"} | said
    if body["resourceType"] == "DiagnosticReport":
        changed["conclusion"] = "\n".join((f"{notice.headline}.", *notice.sentences))
        if changed.pop("presentedForm", None) and notice.page:
            changed["presentedForm"] = [_pdf(notice.page, notice)]
    if body["resourceType"] == "DocumentReference":
        del changed["issued"]
        changed |= {"docStatus": GONE, "description": notice.headline, "content": [_attached(notice)]}
    return changed


def _attached(notice: Notice) -> Element:
    if notice.page:
        return {"attachment": _pdf(notice.page, notice)}
    return {"attachment": {"contentType": "text/plain", "title": notice.headline}}


def _pdf(page: bytes, notice: Notice) -> Element:
    return pdf_of(page, notice.headline, notice.at, notice.language.id)


def _provenance(gone: Sequence[Resource], identity: Identity, codes: Codes, notice: Notice) -> Resource:
    own = identity.uuid("provenance withdrawal")
    recording = {"system": SYSTEM, "value": f"{LINK}{identity.recording_key}"}
    return Resource(
        Rank.PROVENANCE,
        {
            "resourceType": "Provenance",
            "id": own,
            "meta": {"tag": [{"system": SYSTEM, "code": f"{LINK}{own}"}]},
            "language": notice.language.id,
            "text": narrative(notice.headline, paragraphs(notice.sentences[:1]), language=notice.language.id),
            "target": [link(item.id) for item in gone],
            "recorded": moment(notice.at),
            "activity": _meant(codes, "nullify"),
            "agent": [{"type": _meant(codes, "assembler"), "who": link(identity.device("gateway", "gateway"))}],
            "entity": [{"role": "removal", "what": {"identifier": recording, "display": "Recording withdrawn"}}],
        },
    )


def _meant(codes: Codes, name: str) -> Element:
    meaning = codes.meaning(name, False)
    return filled(coding=[coding_of(coding) for coding in meaning.codings], text=meaning.text)


def _narrowed(provenance: Resource, kept: set[str]) -> Resource:
    targets = [target for target in provenance.body["target"] if str(target["reference"]).removeprefix(LINK) in kept]
    return replace(provenance, body={**provenance.body, "target": targets})
