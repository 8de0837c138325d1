"""The file keeps to PDF/A-2a (ISO 19005-2) and PDF/UA-1 (ISO 14289-1) as far as it can be read back."""

import re
import threading
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from pypdf.generic import DictionaryObject, IndirectObject

from gateway.errors import SettingsError
from gateway.report import Letterhead, render, render_svg
from tests.unit.report.cases import BY_NAME, CASES
from tests.unit.report.pages import pdf_of, reader, text_of

NAMES = [case.name for case in CASES]


def elements(content: bytes) -> list[DictionaryObject]:
    """The structure tree in reading order."""
    found: list[DictionaryObject] = []

    def walk(node: Any) -> None:
        node = node.get_object() if isinstance(node, IndirectObject) else node
        if isinstance(node, list):
            for child in node:
                walk(child)
        elif isinstance(node, DictionaryObject):
            if "/S" in node:
                found.append(node)
            if "/K" in node:
                walk(node["/K"])

    walk(reader(content).trailer["/Root"]["/StructTreeRoot"])
    return found


def tags(content: bytes) -> list[str]:
    return [str(element["/S"]) for element in elements(content)]


@pytest.mark.parametrize("name", NAMES)
def test_the_file_declares_both_standards(name: str) -> None:
    root = reader(pdf_of(name)).trailer["/Root"]
    meta = root["/Metadata"].get_data().decode()
    assert re.search(r"<pdfaid:part>2</pdfaid:part>", meta)
    assert re.search(r"<pdfaid:conformance>A</pdfaid:conformance>", meta)
    assert re.search(r"<pdfuaid:part>1</pdfuaid:part>", meta)
    assert root["/MarkInfo"]["/Marked"]
    assert str(root["/Lang"])[:2] == BY_NAME[name].letterhead.language
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]


@pytest.mark.parametrize("name", NAMES)
def test_every_font_is_inside_and_none_is_the_systems(name: str) -> None:
    for page in reader(pdf_of(name)).pages:
        for font in page["/Resources"]["/Font"].values():
            inner = font.get_object()["/DescendantFonts"][0].get_object()
            descriptor = inner["/FontDescriptor"].get_object()
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor)
            assert re.search(r"NotoSans|DroidSansFallback", str(inner["/BaseFont"]))


def test_the_date_of_the_document_is_the_end_of_the_recording() -> None:
    case = BY_NAME["clock-change"]
    info = reader(pdf_of(case.name)).metadata
    assert info is not None
    assert info.creation_date is not None
    assert info.creation_date.timestamp() == case.recording.ended.timestamp()


def test_the_title_names_nobody() -> None:
    info = reader(pdf_of("adequate")).metadata
    assert info is not None
    assert info.title == "Ambulatory blood pressure recording of 3 March 2026"
    assert b"Example, Alex" not in reader(pdf_of("adequate")).trailer["/Root"]["/Metadata"].get_data()


@pytest.mark.parametrize("name", NAMES)
def test_the_course_is_told_in_words(name: str) -> None:
    figures = [element for element in elements(pdf_of(name)) if element["/S"] == "/Figure"]
    assert len(figures) == 1
    told = str(figures[0]["/Alt"])
    assert len(told) > 150
    case = BY_NAME[name]
    valid = sum(one.use == "valid" for one in case.summary.judged)
    assert str(valid) in told


def test_the_words_for_the_course_say_averages_limits_sleep_and_clock() -> None:
    told = next(str(e["/Alt"]) for e in elements(pdf_of("clock-change")) if e["/S"] == "/Figure")
    assert "Awake average 138." in told
    assert "Limit drawn for Awake: 135/85 mmHg." in told
    assert "Shaded as asleep: 23:00 to 07:00." in told
    assert "The clock changes at 02:00, 29 March: clock forward 60 min." in told


@pytest.mark.parametrize("name", NAMES)
def test_tables_have_header_cells_and_headings_go_down_one_by_one(name: str) -> None:
    found = tags(pdf_of(name))
    assert found.count("/Table") >= 2
    assert found.count("/TH") >= 4 * 2
    levels = [int(tag[2]) for tag in found if re.fullmatch(r"/H\d", tag)]
    assert levels[0] == 1
    assert set(levels) == {1, 2}
    for element in elements(pdf_of(name)):
        if element["/S"] == "/TH":
            attributes = element["/A"] if isinstance(element["/A"], list) else [element["/A"]]
            assert any("/Scope" in one.get_object() for one in attributes)


def test_the_reading_order_is_the_answer_first() -> None:
    text = text_of(pdf_of("adequate"))
    order = [
        "Example, Alex",
        "Is the recording good enough?",
        "Awake",
        "138.2/86.1",
        "Does it fall",
        "What stands out",
        "The course",
        "The numbers",
        "How many readings?",
        "Cautions",
    ]
    places = [text.index(one) for one in order]
    assert places == sorted(places)


def test_the_same_values_give_the_same_bytes_in_every_thread() -> None:
    case = BY_NAME["adequate"]
    summary = case.summary
    found: list[bytes] = []

    def work() -> None:
        found.extend(render(case.recording, summary, case.letterhead) for _ in range(3))

    threads = [threading.Thread(target=work) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 6
    assert set(found) == {pdf_of("adequate")}


ONE_PAGE = set(NAMES) - {"two-days", "long-and-hostile-text", "letter-kpa-every-reading"}


@pytest.mark.parametrize("name", sorted(ONE_PAGE))
def test_one_day_stands_on_one_page(name: str) -> None:
    assert len(reader(pdf_of(name)).pages) == 1


def test_two_days_and_very_long_texts_take_a_second_page_of_numbers() -> None:
    for name in ("two-days", "long-and-hostile-text"):
        assert len(reader(pdf_of(name)).pages) == 2


def test_paper() -> None:
    """ISO 216 A4 is 210 x 297 mm; ANSI A, "Letter", 8.5 x 11 in."""
    a4 = reader(pdf_of("adequate")).pages[0].mediabox
    letter = reader(pdf_of("letter-kpa-every-reading")).pages[0].mediabox
    assert (round(float(a4.width) / 72 * 25.4), round(float(a4.height) / 72 * 25.4)) == (210, 297)
    assert (float(letter.width), float(letter.height)) == (612, 792)


def test_not_reviewed_until_signed_off() -> None:
    case = BY_NAME["adequate"]
    assert "Automated, not yet reviewed" in text_of(pdf_of("adequate"))
    signed = render(
        case.recording,
        case.summary,
        replace(case.letterhead, signed_off_by="Dr A. Sample", signed_off_on=date(2026, 3, 6)),
    )
    assert "Automated, not yet reviewed" not in text_of(signed)
    assert "Reviewed by Dr A. Sample, 6 March 2026" in text_of(signed)


def test_an_unknown_language_is_a_fault_of_the_settings() -> None:
    case = BY_NAME["adequate"]
    with pytest.raises(SettingsError, match="write one of de, en, fr"):
        render(case.recording, case.summary, Letterhead(language="../en"))


def test_the_svg_is_the_same_drawing_with_its_title() -> None:
    case = BY_NAME["clock-change"]
    picture = render_svg(case.recording, case.summary)
    assert picture.startswith("<svg ")
    assert "<title>Line plot over local clock time" in picture
    assert "clock forward 60 min" in picture
    assert "<script" not in picture
