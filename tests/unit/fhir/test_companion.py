"""A PDF of the monitor's own software in the record: beside our page or instead of it, and withdrawn with it.

Sources: FHIR R4 4.0.1, DiagnosticReport.presentedForm and Attachment (hash is SHA-1, size in bytes);
DocumentReference.content (further forms of the same document, so another document is another resource).
"""

from base64 import b64decode, b64encode
from hashlib import sha1
from typing import Any

import pytest

from gateway.fhir import Notice, Resource, check, withdraw
from gateway.model import ReportChoice
from tests.builders import NOW, a_recording
from tests.unit.fhir import building
from tests.unit.fhir.building import PAGE, all_codes, bodies, identity_of

PDF = b"%PDF-1.4\n% of the monitor's own software\n%%EOF\n"
OURS, THEIRS = "Ambulatory blood pressure recording", "Report of the monitor's own software"
NOTICE = b"%PDF-1.7\n% the notice\n"


def composed(page: bytes | None = PAGE, **filing: Any) -> tuple[Resource, ...]:
    resources = building.composed(page=page, companion=PDF, **filing)
    assert check(resources, all_codes()) == ()
    return resources


def forms(resources: tuple[Resource, ...]) -> list[dict[str, Any]]:
    (report,) = bodies(resources, "DiagnosticReport")
    return list(report.get("presentedForm", []))


def test_beside_ours_it_comes_second_under_a_title_of_its_own() -> None:
    ours, theirs = forms(composed())
    assert (ours["title"], theirs["title"]) == (OURS, THEIRS)
    assert b64decode(ours["data"]) == PAGE and b64decode(theirs["data"]) == PDF
    assert theirs["contentType"] == "application/pdf" and theirs["size"] == len(PDF)
    assert theirs["hash"] == b64encode(sha1(PDF, usedforsecurity=False).digest()).decode()
    assert "creation" not in theirs and "language" not in theirs, "nobody knows either"


def test_instead_of_ours_it_stands_alone() -> None:
    (theirs,) = forms(composed(page=None))
    assert theirs["title"] == THEIRS and b64decode(theirs["data"]) == PDF


def test_as_documents_each_is_its_own_resource_and_only_ours_names_an_author() -> None:
    resources = composed(report=ReportChoice.DOCUMENT_REFERENCE)
    assert forms(resources) == []
    ours, theirs = bodies(resources, "DocumentReference")
    assert (ours["description"], theirs["description"]) == (OURS, THEIRS)
    assert ours["id"] != theirs["id"] and "author" in ours and "author" not in theirs
    assert [b64decode(each["content"][0]["attachment"]["data"]) for each in (ours, theirs)] == [PAGE, PDF]


@pytest.mark.parametrize("report", [ReportChoice.DIAGNOSTIC_REPORT, ReportChoice.DOCUMENT_REFERENCE])
def test_in_binaries_each_has_its_own_and_is_pointed_at(report: ReportChoice) -> None:
    resources = composed(report=report, report_binary=True)
    pages = {f"urn:uuid:{each['id']}": b64decode(each["data"]) for each in bodies(resources, "Binary")}
    assert sorted(pages.values()) == sorted([PAGE, PDF])
    places = forms(resources) or [each["content"][0]["attachment"] for each in bodies(resources, "DocumentReference")]
    assert [pages[each["url"]] for each in places] == [PAGE, PDF]
    assert all("data" not in each for each in places)


@pytest.mark.parametrize("filing", [{"report": ReportChoice.NONE}, {"interpretation": False}])
def test_where_no_page_is_wanted_none_is_filed(filing: dict[str, Any]) -> None:
    resources = composed(**filing, report_binary=True)
    assert forms(resources) == bodies(resources, "Binary") == bodies(resources, "DocumentReference") == []


@pytest.mark.parametrize("report", [ReportChoice.DIAGNOSTIC_REPORT, ReportChoice.DOCUMENT_REFERENCE])
@pytest.mark.parametrize("binary", [False, True])
@pytest.mark.parametrize("page", [PAGE, None])
def test_withdrawn_nothing_of_it_can_be_opened_any_more(
    report: ReportChoice, binary: bool, page: bytes | None
) -> None:
    before = composed(page=page, report=report, report_binary=binary)
    own = identity_of(a_recording())
    after = withdraw(before, own, all_codes(), Notice(at=NOW, page=NOTICE))
    known = frozenset(item.id for item in before) | {own.device("gateway", "gateway")}
    assert check(after, all_codes(), known) == ()
    text = repr([item.body for item in after])
    assert b64encode(PDF).decode() not in text and THEIRS not in text
    assert b64encode(NOTICE).decode() in text
    assert {item.id for item in before if item.type in ("DocumentReference", "Binary")} <= {i.id for i in after}
