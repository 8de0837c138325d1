"""Drafts of workbooks: the sheet is found, its cells are read by the draft, another such sheet is a question."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest

from gateway.drafting import NoDraft, propose
from gateway.model import Recording
from tests.unit.drafting.exports import WORDS, a_draft, tried
from tests.unit.read import books

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
BEGAN = datetime(2026, 3, 13, 9, 15)  # noqa: DTZ001  (a cell has no zone)
FACTS = [("Patient-ID", "A0042"), ("Seriennummer", "B7"), ()]
AT = [BEGAN + timedelta(minutes=45 * at) for at in range(30)]
ROWS = [("Zeitpunkt", "Systole mmHg", "Diastole mmHg", "Puls"), *((at, 121 + at.hour, 80, 70) for at in AT)]
TWO = [("Datum", "Uhrzeit", "Systole", "Diastole"), *((at.date(), at.time(), 121 + at.hour, 80) for at in AT)]
WRITERS = pytest.mark.parametrize("write", [books.xlsx, books.ods], ids=["xlsx", "ods"])


def keys(content: bytes) -> dict[str, Any]:
    return {each.key: each.value for each in a_draft(content, NOW).guesses}


@WRITERS
@pytest.mark.parametrize("rows", [ROWS, TWO], ids=["in one column", "in two columns"])
def test_a_workbook_is_read_by_its_draft(write: Any, rows: Sequence[Sequence[Any]]) -> None:
    content = write([*FACTS, *rows])
    draft = a_draft(content, NOW)
    recording = tried(draft, content)
    assert isinstance(recording, Recording), recording
    assert [each.systolic for each in recording.readings] == [10 * (121 + at.hour) for at in AT]
    assert [each.at.replace(tzinfo=None) for each in recording.readings] == AT
    assert recording.monitor.serial == "B7"
    assert 'kind = "workbook"' in draft.text
    assert "A0042" not in draft.text


def test_the_sheet_with_the_readings_is_found() -> None:
    def covered(book: Any) -> None:
        book.create_sheet("Cover", 0)["A1"] = "nothing here"

    content = books.xlsx([*FACTS, *ROWS], covered)
    assert keys(content)["format.sheet"] == 2
    assert "format.sheet" not in a_draft(content, NOW).questions
    assert isinstance(tried(a_draft(content, NOW), content), Recording)


def test_a_second_such_sheet_is_a_question() -> None:
    def twice(book: Any) -> None:
        book.copy_worksheet(book.active)

    assert "format.sheet" in a_draft(books.xlsx([*FACTS, *ROWS], twice), NOW).questions


@WRITERS
def test_a_workbook_without_readings_gets_no_draft(write: Any) -> None:
    found = propose(write([("Name", "Age"), ("x", 4), (date(2026, 3, 3), time(9, 15))]), WORDS, NOW)
    assert isinstance(found, NoDraft)


def test_a_damaged_workbook_gets_no_draft_and_says_why() -> None:
    found = propose(books.xlsx([*FACTS, *ROWS])[:-400], WORDS, NOW)
    assert isinstance(found, NoDraft)
    assert found.sentence
