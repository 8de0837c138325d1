"""What a file turns out to be, and what is made of it for each destination. No disk, no network, no clock."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from gateway import fhir
from gateway.analyse import fitting, summarise
from gateway.analyse.comparing import compare
from gateway.analyse.telling import told
from gateway.errors import ContentFault
from gateway.mapping.codes import Codes
from gateway.mapping.language import ENGLISH, Language
from gateway.mapping.monitors import MonitorRules
from gateway.mapping.profile import Profile
from gateway.mapping.rules import Rules
from gateway.mapping.site import SiteDefaults
from gateway.mapping.source import SourceMap
from gateway.model import (
    Companion,
    CompanionUse,
    Examined,
    Filing,
    Hold,
    HoldReason,
    Person,
    Recording,
    Summary,
    Waiver,
)
from gateway.model.facts import PreviewFacts
from gateway.model.plain import plain_json
from gateway.model.projection import facts_of
from gateway.model.routing import EVERYTHING, KeptBack, Only
from gateway.read import read
from gateway.read.companion import looks_like_pdf
from gateway.report import Letterhead, ReportError, render
from gateway.validate import canonical, examine
from gateway.validate.renamed import renamed, renaming


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """One destination as far as composing is concerned."""

    filing: Filing
    profile: Profile
    only: Only = EVERYTHING


@dataclass(frozen=True, slots=True, kw_only=True)
class Tools:
    """Everything that decides how a file is understood and what is made of it, fixed for one run."""

    sources: tuple[SourceMap, ...]
    defaults: SiteDefaults
    rules: Rules
    codes: Codes
    routes: tuple[Route, ...]
    letterhead: Letterhead
    software: str
    language: Language = ENGLISH
    sign_off_first: bool = False
    companion: CompanionUse = CompanionUse.IGNORE
    companion_bytes: int = 600_000
    """a PDF that came with an export and is larger is not filed"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Considered:
    """What a file turned out to be. Without a hold there is a summary; with one there may be."""

    recording: Recording | None = None
    examined: Examined | None = None
    summary: Summary | None = None
    hold: Hold | None = None
    companion: Companion | None = None

    @property
    def ready(self) -> Recording:
        """The recording, where nothing is held. Raises ValueError for a held one, of which nothing is made."""
        if self.hold is not None or self.recording is None:
            raise ValueError("nothing is made of a held recording")
        return self.recording

    @property
    def facts(self) -> PreviewFacts:
        """The contract of `preview --json`."""
        fate = self.companion.fate if self.companion else None
        return facts_of(self.recording, self.examined, self.summary, self.hold, fate)


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A recording with its result, ready to be composed: nothing is held and nothing is missing.

    `summary` is in the language of the site. `signed_off_by` empty: nobody has looked at it yet. `replaces`:
    when the result was made that it corrects.
    """

    recording: Recording
    summary: Summary
    report: bytes | None
    signed_off_by: str = ""
    companion: Companion | None = None
    replaces: datetime | None = None


def consider(
    content: bytes,
    name: str,
    tools: Tools,
    now: datetime,
    waived: frozenset[str] = frozenset(),
    given: Person | None = None,
) -> Considered:
    """Read, validate and analyse one file. Pure: the same bytes and tools give the same result.

    A held recording whose readings could be judged gets its summary too, so that a person sees what is at stake.
    `given`: whose it is by a named person's word, instead of the one that the file names.
    """
    if tools.companion is not CompanionUse.IGNORE and looks_like_pdf(content):
        return Considered(hold=Hold(reason=HoldReason.PDF_ALONE))
    recording = read(content, name, tools.sources, tools.defaults)
    if isinstance(recording, Hold):
        return Considered(hold=recording)
    recording = renamed(recording, given) if given else recording
    recording = _with_canonical_number(recording, tools.rules.person.systems)
    recording = _with_register(recording, tools.rules.monitors)
    rules = fitting(recording, tools.rules)
    examined = examine(recording, rules, now, waived)
    if given:
        examined = replace(examined, findings=(*examined.findings, renaming()))
    judged = examined.windows is not None and examined.adequacy is not None
    considered = Considered(
        recording=recording,
        examined=examined,
        summary=summarise(recording, examined, rules) if judged else None,
        hold=examined.hold,
    )
    if considered.hold is None and tools.routes and all(kept for _, kept in where_to(considered, tools)):
        return replace(considered, hold=Hold(reason=HoldReason.NO_DESTINATION))
    return considered


def where_to(considered: Considered, tools: Tools) -> tuple[tuple[Route, KeptBack | None], ...]:
    """Every destination, and why this recording does not go there; None: it goes."""
    recording, summary = considered.recording, considered.summary
    if recording is None or summary is None:
        return ()
    return tuple((route, route.only.keeps_back(recording, summary)) for route in tools.routes)


def _with_canonical_number(recording: Recording, systems: Mapping[str, str]) -> Recording:
    """The same number written with other blanks or hyphens is the same person, wherever it is compared."""
    if recording.person.identifier is None:
        return recording
    number = canonical(recording.person.identifier, systems)
    return replace(recording, person=replace(recording.person, identifier=number))


def _with_register(recording: Recording, rules: MonitorRules) -> Recording:
    """With what the site's register has of the monitor."""
    found = rules.of(recording.monitor.serial)
    if found is None:
        return recording
    known = replace(recording.monitor, location=found.location or None, calibration_due=found.calibration_due)
    return replace(recording, monitor=known)


def compared(considered: Considered, earlier: Sequence[bytes]) -> Considered:
    """With the comparison to earlier recordings of the person; `earlier` are their stored facts, oldest first."""
    summary = considered.summary
    if considered.hold is not None or summary is None:
        return considered
    lines = compare(plain_json(considered.facts), earlier, summary.rules.deciding_mean)
    return replace(considered, summary=replace(summary, comparison=lines))


def make(
    considered: Considered,
    tools: Tools,
    now: datetime,
    signed: Waiver | None = None,
    replaces: datetime | None = None,
) -> Made:
    """Draw the report of a recording that may go on. A report that cannot be drawn never blocks the readings.

    `now` stands on the report of a historical recording only: "analysed on …", as a day at the place of the patient.
    `signed`: who signed the result off, which then stands in place of "not yet reviewed". `replaces`:
    when the result was made that this one corrects (aware, by the clock of the patient).
    """
    recording = considered.ready
    if considered.summary is None:
        raise ValueError("a recording that may go on has a summary")
    letterhead, summary = tools.letterhead, told(considered.summary, tools.language)
    if signed is not None:
        on = signed.at.astimezone(recording.ended.tzinfo).date()
        letterhead = replace(letterhead, signed_off_by=signed.by, signed_off_on=on)
    if replaces is not None:
        letterhead = replace(letterhead, replaces_on=replaces.date())
    if summary.historical:
        letterhead = replace(letterhead, analysed_on=now.astimezone(recording.ended.tzinfo).date())
    companion = considered.companion
    try:
        replaced = companion is not None and companion.replaces
        report = None if replaced else render(recording, summary, letterhead)
    except ReportError:
        report = None
    return Made(
        recording=recording,
        summary=summary,
        report=report,
        signed_off_by=signed.by if signed else "",
        companion=companion,
        replaces=replaces,
    )


def key_of(recording: Recording, store_key: bytes, issue: int) -> str:
    """The recording's key, fixed when it is first seen. Raises ValueError without an identifier."""
    if recording.person.identifier is None:
        raise ValueError("a recording without an identifier is always held")
    return fhir.recording_key(
        store_key, recording.person.identifier, recording.monitor.serial, recording.began, issue
    )


def parcel_for(route: Route, made: Made, identity: fhir.Identity, tools: Tools, issued: datetime) -> fhir.Parcel:
    """Checked, destination-neutral resources for one destination. Raises ContentFault."""
    filing = replace(route.filing, replaces=made.replaces)
    if made.signed_off_by:
        filing = replace(filing, report_status="final", signed_off_by=made.signed_off_by)
    resources = fhir.compose(
        made.recording,
        made.summary,
        filing,
        identity,
        tools.codes,
        route.profile,
        issued,
        made.report,
        tools.software,
        tools.language,
        made.companion.filed if made.companion else None,
    )
    if faults := fhir.check(resources, tools.codes):
        raise ContentFault(faults)
    return fhir.Parcel(person=made.recording.person, ended=made.recording.ended, resources=resources)
