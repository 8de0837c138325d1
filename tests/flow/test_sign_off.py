"""A site may want that nothing is filed unseen: each result waits for a clinician's name, and then carries it."""

import io
from base64 import b64decode
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from scenario import people
from scenario.record import RecordServer

from gateway.model import Waiver
from gateway.reviewing import SIGN_OFF_RULE, signature
from tests.flow.day import Day, a_day
from tests.flow.test_commands import export, held, reports


def text_of(pdf: bytes) -> str:
    return " ".join("\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def report_of(record: RecordServer) -> dict[str, Any]:
    (report,) = reports(record, people.ADA)
    return report


def page_of(report: dict[str, Any]) -> str:
    return text_of(b64decode(report["presentedForm"][0]["data"]))


def signing(place: Path, record: RecordServer) -> Day:
    day = a_day(place, record.base)
    settings = day.config.read_text()
    day.config.write_text(settings.replace("[site]\n", "[site]\nsign_off_first = true\n"))
    return day


@pytest.mark.service
def test_nothing_is_filed_before_a_clinician_signed_it_off(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = signing(tmp_path / "day", record)
    day.drop("a.csv", export(today))
    assert day.command("once").returncode == 1
    (item,) = held(day)
    assert item["reason"] == "not-signed-off"
    assert reports(record, people.ADA) == []

    file = next(path for path in (day.place / "held").iterdir() if path.suffix == ".csv")
    seen = tmp_path / "seen.pdf"
    assert day.command("preview", str(file), "--pdf", str(seen)).returncode == 0
    assert "Automated, not yet reviewed" in text_of(seen.read_bytes())

    signed = day.command("held", "release", item["id"], "--by", "Dr A. Sample", "--why", "looked at it")
    assert signed.returncode == 0, signed.stderr
    assert day.command("once").returncode == 0
    report = report_of(record)
    assert report["status"] == "final"
    assert report["resultsInterpreter"] == [{"display": "Dr A. Sample"}]
    assert "not yet reviewed" not in report["conclusion"]
    assert "Reviewed by Dr A. Sample, " in page_of(report)
    assert "not yet reviewed" not in page_of(report)


@pytest.mark.service
def test_a_sign_off_is_not_asked_for_where_something_else_is_wrong(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = signing(tmp_path / "day", record)
    day.drop("a.csv", export(today).replace(people.ADA.number.encode(), b"9990000019"))
    day.command("once")
    (item,) = held(day)
    assert item["reason"] == "identifier-invalid"


@pytest.mark.service
def test_without_the_setting_the_result_is_filed_as_not_yet_reviewed(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("a.csv", export(today))
    assert day.command("once").returncode == 0
    report = report_of(record)
    assert (report["status"], "resultsInterpreter" in report) == ("preliminary", False)
    assert "Automated, not yet reviewed" in page_of(report)


def test_only_the_last_sign_off_counts_and_no_other_release() -> None:
    at = datetime(2026, 3, 6, 9, 0, tzinfo=UTC)
    first = Waiver(rule=SIGN_OFF_RULE, by="Dr A. Sample", why="seen", at=at)
    last = Waiver(rule=SIGN_OFF_RULE, by="Dr B. Sample", why="seen again", at=at + timedelta(hours=1))
    other = Waiver(rule="recording-too-old", by="A. Nurse", why="late", at=at + timedelta(hours=2))
    assert signature(()) is None
    assert signature((other,)) is None
    assert signature((last, other, first)) is last
