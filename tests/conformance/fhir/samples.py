"""What the judges see: what examples, golden tests and generated recordings become, and our terminology."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache
from itertools import cycle, product

from scenario.exports import exports

from gateway import fhir
from gateway.amending import withdrawal_of
from gateway.enclosing import enclosed
from gateway.fhir.terminology import terminology
from gateway.intake import Route, Tools, consider, key_of, make, parcel_for
from gateway.mapping.monitors import MonitorRules, RegisteredMonitor, plain_words
from gateway.mapping.rules import Rules
from gateway.mapping.site import SiteDefaults
from gateway.model import Companion, CompanionUse, Filed, Filing, ReadingsChoice, Recording, ReportChoice, Way
from gateway.report import Letterhead
from gateway.settings import default_person_rules
from gateway.settings.maps import Mappings, load
from tests.builders import a_recording
from tests.conformance.fhir.generated import changed, generated
from tests.flow import test_golden_bundle as golden
from tests.spec.test_audit_events import every_failure, every_success
from tests.unit.fhir.building import SOFTWARE, STORE_KEY, composed, identity_of

NHS = "https://fhir.nhs.uk/Id/nhs-number"
DAY = date(2026, 3, 6)
"""The scenario is told as of a day that never changes."""

ISSUED = datetime(2026, 3, 6, 9, 0, tzinfo=UTC)
PATIENT = fhir.PatientLink(reference="Patient/p-7")


@cache
def maps() -> Mappings:
    return load(None)


def definitions() -> Iterator[tuple[str, bytes]]:
    """Our CodeSystem and ValueSet."""
    for body in terminology(maps().codes):
        yield f"{body['resourceType']}.json", fhir.written(body, indent=True)


def samples(recordings: int) -> Iterator[tuple[str, bytes]]:
    """Name and content of every bundle to be judged; none may have a fault by our own check."""
    ways = cycle(Way)
    for number, parcel in enumerate(scenario_parcels()):
        yield from _bundles(f"scenario-{number}", parcel.resources, (next(ways),) if number < len(Way) else ())
    for name in golden.CASES:
        yield from _bundles(f"golden-{name}", golden.resources(name)[1], Way)
        yield from _withdrawn(f"golden-{name}", *golden.resources(name))
    yield from _corrected()
    yield from _with_register_and_pdf()
    for name, event in (every_success() | every_failure()).items():
        yield f"audit-{name.replace(' ', '-')}.json", fhir.written(event)
    for number in range(recordings):
        recording, _, resources = generated(number, maps())
        yield from _bundles(f"generated-{number:03}", resources, ())
        if number % 5 == 0:
            yield from _withdrawn(f"generated-{number:03}", recording, resources)


def scenario_parcels(report: ReportChoice = ReportChoice.DIAGNOSTIC_REPORT) -> Iterator[fhir.Parcel]:
    """What the invented surgery's exports become, by the real chain; a held one becomes nothing."""
    surgery = tools(report)
    for export in exports(DAY):
        considered = consider(export.content, export.name, surgery, ISSUED)
        if considered.hold is None:
            made = make(considered, surgery, ISSUED)
            identity = fhir.Identity(STORE_KEY, key_of(made.recording, STORE_KEY, issue=1))
            yield parcel_for(surgery.routes[0], made, identity, surgery, ISSUED)


def tools(report: ReportChoice = ReportChoice.DIAGNOSTIC_REPORT) -> Tools:
    """What the invented surgery works with."""
    filing = Filing(destination="record", performer="Larkmoor Surgery", report=report)
    return Tools(
        sources=tuple(maps().sources.values()),
        defaults=SiteDefaults(zone="Europe/London", identifier_system=NHS),
        rules=Rules(
            guideline=maps().guidelines["nice-ng136"],
            limits=maps().limits["widest"],
            person=default_person_rules(),
        ),
        codes=maps().codes,
        routes=(Route(filing=filing, profile=maps().profiles["international"]),),
        letterhead=Letterhead(organisation="Larkmoor Surgery", software=SOFTWARE),
        software=SOFTWARE,
    )


def _withdrawn(name: str, recording: Recording, resources: tuple[fhir.Resource, ...]) -> Iterator[tuple[str, bytes]]:
    """What takes the place of what was filed, where all of it was."""
    parcel = fhir.Parcel(person=recording.person, ended=recording.ended, resources=resources)
    taken_back = fhir.unpack(withdrawal_of(fhir.pack(parcel), identity_of(recording), tools(), ISSUED))
    yield f"withdrawn-{name}.json", fhir.written(fhir.bundle(taken_back.resources))


def _with_register_and_pdf() -> Iterator[tuple[str, bytes]]:
    """A monitor that is overdue and elsewhere by the register, and a PDF of its own software beside our page."""
    export = next(each for each in exports(DAY) if consider(each.content, each.name, tools(), ISSUED).hold is None)
    plain = consider(export.content, export.name, tools(), ISSUED)
    serial = plain.ready.monitor.serial or ""
    entry = RegisteredMonitor(serial=serial, location="Fenmarch Surgery", calibration_due=date(2026, 1, 31))
    monitors = MonitorRules(register={plain_words(serial): entry}, home="Larkmoor Surgery")
    pdf = Companion(content=make(plain, tools(), ISSUED).report, fault=None)
    for report in (ReportChoice.DIAGNOSTIC_REPORT, ReportChoice.DOCUMENT_REFERENCE):
        surgery = replace(tools(report), companion=CompanionUse.BESIDE)
        surgery = replace(surgery, rules=replace(surgery.rules, monitors=monitors))
        considered = enclosed(consider(export.content, export.name, surgery, ISSUED), pdf, surgery)
        made = make(considered, surgery, ISSUED)
        identity = fhir.Identity(STORE_KEY, key_of(made.recording, STORE_KEY, issue=1))
        resources = parcel_for(surgery.routes[0], made, identity, surgery, ISSUED).resources
        (monitor,) = [item for item in resources if "note" in item.body and item.type == "Device"]
        assert "location" in monitor.body and "property" in monitor.body
        yield from _bundles(f"register-and-pdf-{report.value}", resources, Way)


def _corrected() -> Iterator[tuple[str, bytes]]:
    """What takes the place of what was filed, where another export says something else; with what was filed."""
    recording = a_recording()
    how = fhir.Correction(
        identity=identity_of(recording),
        codes=maps().codes,
        profile=maps().profiles["international"],
        notice=fhir.Notice(at=ISSUED, page=None),
        gone=None,
    )
    for report, status in product(ReportChoice, ("preliminary", "final")):
        choices = {"report": report, "report_status": status, "readings": ReadingsChoice.ALL}
        before, now = composed(recording, **choices), composed(changed(recording), **choices)
        yield from _bundles(f"corrected-{report.value}-{status}", fhir.correct(before, now, how), (Way.PUT,))
        back = fhir.correct(now, before, how)  # a reading goes again: it is entered in error
        yield f"corrected-back-{report.value}-{status}.json", fhir.written(fhir.bundle(back))


def _bundles(name: str, resources: tuple[fhir.Resource, ...], ways: Iterable[Way]) -> Iterator[tuple[str, bytes]]:
    """The neutral bundle, and what is sent in each way of writing to a server that takes 40 entries at once."""
    faults = fhir.check(resources, maps().codes)
    if faults:
        raise AssertionError(f"{name}: {faults[:3]}")
    yield f"{name}-neutral.json", fhir.written(fhir.bundle(resources))
    for way in ways:
        ledger: dict[str, Filed] = {}
        while part := fhir.next_part(resources, PATIENT, way, ledger, most_entries=40):
            yield f"{name}-{way.value}-{len(ledger)}.json", part.content
            for entry in part.entries:
                number = f"s-{len(ledger)}"
                ledger[entry.resource.id] = fhir.filed_as(entry.resource, entry.server_id or number, "1")
