"""Foreign text is inert, drawable and short; numbers are printed as reported."""

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st

import gateway.report
from gateway.model import Tenths
from gateway.report import render
from gateway.report.text import MISSING_LETTER, in_kpa, long_date, number, pair, plain, tenths, whole
from gateway.report.words import words_of
from tests.builders import a_person
from tests.unit.report.cases import BY_NAME, SURGERY
from tests.unit.report.pages import pdf_of, reader, text_of

FONTS = Path(gateway.report.__file__).parent / "fonts"


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("Example", "Example"),
        ("  two \n\t lines\r\n", "two lines"),
        ("bell\x07null\x00", "bell null"),
        ("right\u202eleft\u2066", "rightleft"),
        ("e\u0301", "é"),
        ("\U0001f600", MISSING_LETTER),
        ("\ue000", MISSING_LETTER),
        ("#emph[x] *b* $a$", "#emph[x] *b* $a$"),
        ("a" * 31, "a" * 30 + "\u200ba"),
    ],
)
def test_plain(given: str, shown: str) -> None:
    assert plain(given) == shown


def test_long_text_is_cut_with_a_sign() -> None:
    assert plain("word " * 50, 20) == "word word word word…"


@given(st.text(max_size=300), st.integers(5, 90))
def test_whatever_is_given_can_be_drawn(text: str, most: int) -> None:
    shown = plain(text, most).replace("\u200b", "")
    assert len(shown) <= most
    ranges = json.loads((FONTS / "coverage.json").read_text())
    assert all(any(first <= ord(letter) <= last for first, last in ranges) for letter in shown)


@settings(max_examples=12, deadline=None)
@given(family=st.text(max_size=120), given=st.text(max_size=60))
def test_any_name_gives_a_page(family: str, given: str) -> None:
    case = BY_NAME["clock-change"]
    person = a_person(family_name=family, given_name=given)
    assert render(replace(case.recording, person=person), case.summary, SURGERY).startswith(b"%PDF-")


def test_the_coverage_file_is_what_the_fonts_can_draw() -> None:
    """fontTools reads the same character maps by another way."""
    points: set[int] = set()
    for path in FONTS.glob("*.ttf"):
        points |= set(TTFont(path).getBestCmap())
    ranges = json.loads((FONTS / "coverage.json").read_text())
    listed = {point for first, last in ranges for point in range(first, last + 1)}
    assert listed == {point for point in points if point >= 0x20 and not 0xE000 <= point <= 0xF8FF}


def test_markup_in_names_and_notes_is_set_as_it_stands() -> None:
    text = text_of(pdf_of("long-and-hostile-text"))
    assert '#emph[x] *b* $a$ `r` "q" \\ <l> @ref' in text
    assert "\u202e" not in text


def test_markup_in_the_name_is_inert() -> None:
    case = BY_NAME["clock-change"]
    hostile = '#read("/etc/passwd") #panic() $x$'
    person = a_person(family_name=hostile, given_name="</svg><script>")
    text = text_of(render(replace(case.recording, person=person), case.summary, SURGERY))
    assert hostile in text
    assert "</svg><script>" in text


def test_a_very_long_name_stays_inside_the_page() -> None:
    """Every piece of text begins inside the margins and no line leaves the paper (checked by the ink)."""
    from tests.unit.report.pages import pictures

    for page in pictures(pdf_of("long-and-hostile-text"), 1):
        right_edge = page.convert("L").crop((page.width - 30, 0, page.width, page.height))
        assert right_edge.getextrema()[0] == 255


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("greek", "Παπαδοπούλου, Ελένη"),
        ("chinese", "欧阳, 晓明"),
        ("polish-german", "Żółkiewski-Łęcki, Święcisław"),
    ],
)
def test_names_of_other_scripts_can_be_searched_for(name: str, words: str) -> None:
    assert words in text_of(pdf_of(name))


@pytest.mark.parametrize(("name", "letters"), [("right-to-left", "אברהם"), ("arabic", "ليلى")])
def test_right_to_left_letters_are_all_there(name: str, letters: str) -> None:
    """pypdf gives right-to-left runs in the order of the ink, so letters are compared, not their order."""
    text = "".join(page.extract_text() for page in reader(pdf_of(name)).pages)
    assert set(letters) <= set(text)


def test_numbers() -> None:
    assert number(Decimal("138.20")) == "138.20"
    assert number(Decimal("-3.1")) == "-3.1"
    assert number(None) == "–"
    assert pair(Decimal("138.2"), None) == "138.2/–"
    assert whole(Decimal(135)) == "135"
    assert whole(Decimal("134.5")) == "134.5"
    assert tenths(Tenths(1382)) == "138.2"
    assert tenths(Tenths(1380)) == "138"
    assert tenths(None) == "–"


@pytest.mark.parametrize(("mmhg", "kpa"), [("120", "16.0"), ("80", "10.7"), ("135", "18.0"), ("7.5", "1.0")])
def test_kilopascal(mmhg: str, kpa: str) -> None:
    """120/80 mmHg is 16.0/10.7 kPa (SI conversion 1 mmHg = 0.133322 kPa, NIST SP 811)."""
    assert str(in_kpa(Decimal(mmhg))) == kpa


def test_dates_in_words() -> None:
    day = date(2026, 3, 4)
    assert [long_date(day, words_of(one)) for one in ("en", "de", "fr")] == [
        "4 March 2026",
        "4. März 2026",
        "4 mars 2026",
    ]
