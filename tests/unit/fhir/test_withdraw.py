"""What stands in the record once a result is withdrawn.

Sources: FHIR R4 4.0.1, value sets observation-status, diagnostic-report-status and document-reference-status
(entered-in-error), composition-status for docStatus, and Provenance.entity.role "removal"; v3-DataOperation NULLIFY.
"""

from base64 import b64decode
from datetime import timedelta

import pytest

from gateway.fhir import GONE, Identity, Notice, Rank, Resource, check, only_there, withdraw
from gateway.mapping.language import ENGLISH
from gateway.model import Filed, ReportChoice
from gateway.settings.maps import load
from tests.builders import NOW, a_recording
from tests.unit.fhir.building import all_codes, bodies, composed, identity_of

PAGE = b"%PDF-1.7\n% the notice\n"
AT = NOW + timedelta(days=2)
PLACED = "DocumentReference"
PLACES = [ReportChoice.DIAGNOSTIC_REPORT, ReportChoice.DOCUMENT_REFERENCE]


def own() -> Identity:
    return identity_of(a_recording())


def gone(report: ReportChoice = PLACES[0], page: bytes | None = PAGE, language: str = "en") -> tuple[Resource, ...]:
    languages = {**load(None).languages, "en": ENGLISH}
    notice = Notice(at=AT, page=page, language=languages[language])
    return withdraw(composed(report=report), own(), all_codes(), notice)


def known(resources: tuple[Resource, ...]) -> frozenset[str]:
    return frozenset(item.id for item in resources)


@pytest.mark.parametrize("report", PLACES)
def test_everything_is_entered_in_error_in_the_same_chart_under_the_same_numbers(report: ReportChoice) -> None:
    before, after = composed(report=report), gone(report)
    kept = {item.id: item for item in before if item.type not in ("Device", "Provenance")}
    changed = {item.id: item for item in after if item.type != "Provenance"}
    assert set(changed) == set(kept)
    for number, item in changed.items():
        assert item.body["status"] == GONE
        for element in ("subject", "identifier", "code", "effectiveDateTime", "effectivePeriod", "basedOn"):
            assert item.body.get(element) == kept[number].body.get(element), element
    assert check(after, all_codes(), known(before) | {own().device("gateway", "gateway")}) == ()


def test_the_report_goes_first() -> None:
    ranks = [item.rank for item in gone()]
    assert ranks == sorted(ranks)
    assert gone()[0].type == "DiagnosticReport" and gone()[0].rank is Rank.NOTICE


@pytest.mark.parametrize("language", ["en", "de", "fr"])
def test_text_and_page_are_the_notice_and_say_nothing_of_the_result(language: str) -> None:
    before, after = composed(), gone(language=language)
    (old,) = bodies(before, "DiagnosticReport")
    (report,) = bodies(after, "DiagnosticReport")
    headline = {"en": "Withdrawn", "de": "Zurückgezogen", "fr": "Retiré"}[language]
    assert report["conclusion"].startswith(f"{headline}.\n")
    assert not set(report["conclusion"].split("\n")) & set(old["conclusion"].split("\n"))
    (form,) = report["presentedForm"]
    assert (form["title"], form["size"], form["language"]) == (headline, len(PAGE), language)
    for item in after:
        if item.type != "Provenance":
            assert headline in item.body["text"]["div"] and "mmHg" not in item.body["text"]["div"]


def test_a_document_is_replaced_by_the_notice_too() -> None:
    (document,) = bodies(gone(ReportChoice.DOCUMENT_REFERENCE), "DocumentReference")
    assert (document["status"], document["docStatus"], document["description"]) == (GONE, GONE, "Withdrawn")
    assert document["content"][0]["attachment"]["size"] == len(PAGE)


@pytest.mark.parametrize("report", PLACES)
def test_without_a_page_the_old_one_goes_all_the_same(report: ReportChoice) -> None:
    after = gone(report, page=None)
    assert check(after, all_codes(), known(composed(report=report)) | {own().device("gateway", "gateway")}) == ()
    assert "JVBER" not in str([item.body for item in after]), "a PDF, in base 64"


def test_a_second_provenance_says_what_was_done() -> None:
    (provenance,) = bodies(gone(), "Provenance")
    (first,) = bodies(composed(), "Provenance")
    assert provenance["id"] != first["id"]
    assert provenance["activity"]["coding"][0]["code"] == "NULLIFY"
    assert provenance["entity"][0]["role"] == "removal"
    assert len(provenance["target"]) == len([item for item in gone() if item.type != "Provenance"])


def test_what_a_record_never_got_is_not_created_in_order_to_be_withdrawn() -> None:
    after = gone()
    (report,) = [item for item in after if item.type == "DiagnosticReport"]
    row = Filed(
        resource_id=report.id, resource_type=report.type, server_id="7", version="1", content_hash="", status=""
    )
    kept = only_there(after, {report.id: row})
    assert [item.type for item in kept] == ["DiagnosticReport", "Provenance"]
    assert [target["reference"] for target in kept[1].body["target"]] == [f"urn:uuid:{report.id}"]
    assert only_there(after, {}) == ()


def test_devices_are_left_alone() -> None:
    devices = tuple(item for item in composed() if item.type == "Device")
    row = Filed(resource_id="", resource_type="Device", server_id="7", version="1", content_hash="", status="")
    assert len(devices) == 2
    assert only_there((*devices, *gone()), {item.id: row for item in devices}) == ()


def test_what_is_withdrawn_already_cannot_be_withdrawn() -> None:
    with pytest.raises(ValueError, match="nothing"):
        withdraw(gone(), own(), all_codes(), Notice(at=AT, page=PAGE))


@pytest.mark.parametrize("page", [PAGE, None])
@pytest.mark.parametrize("report", PLACES)
def test_a_page_in_a_binary_of_its_own_goes_too(report: ReportChoice, page: bytes | None) -> None:
    before = composed(report=report, report_binary=True)
    after = withdraw(before, own(), all_codes(), Notice(at=AT, page=page))
    (binary,), (old,) = bodies(after, "Binary"), bodies(before, "Binary")
    assert binary["id"] == old["id"] and binary["securityContext"] == old["securityContext"]
    assert (b64decode(binary["data"]) if page else binary.get("data")) == page
    assert old["data"] not in str([item.body for item in after])
    assert f"urn:uuid:{old['id']}" not in str([bodies(after, kind) for kind in ("DiagnosticReport", PLACED)])
    assert check(after, all_codes(), known(before) | {own().device("gateway", "gateway")}) == ()
