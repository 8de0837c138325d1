"""Contrast by computation: WCAG 2.1, success criteria 1.4.3 (text 4.5:1) and 1.4.11 (graphics 3:1)."""

import re
from itertools import product
from pathlib import Path

import pytest

import gateway.report
from gateway.report import palette, render_svg
from tests.unit.report.cases import BY_NAME
from tests.unit.report.pages import pdf_of, pictures


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.1 defines it."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_formula() -> None:
    """Black on white is 21:1 and #767676 on white 4.54:1 (WCAG 2.1 understanding documents, from memory)."""
    assert round(contrast("#000000", "#ffffff"), 2) == 21
    assert round(contrast("#767676", "#ffffff"), 2) == 4.54


@pytest.mark.parametrize(("colour", "ground"), list(product(palette.TEXTS, palette.GROUNDS)))
def test_text_is_readable_on_every_ground(colour: str, ground: str) -> None:
    assert contrast(colour, ground) >= 4.5


@pytest.mark.parametrize(("colour", "ground"), list(product(palette.LINES, palette.GROUNDS)))
def test_lines_are_visible_on_every_ground(colour: str, ground: str) -> None:
    """Rules and axes lie on paper and on the shade of sleep only."""
    if colour == palette.RULE and ground == palette.BAND:
        ground = palette.SLEEP
    assert contrast(colour, ground) >= 3


def test_nothing_on_the_page_uses_another_colour() -> None:
    template = (Path(gateway.report.__file__).parent / "template" / "page.typ").read_text()
    case = BY_NAME["adequate"]
    used = set(re.findall(r"#[0-9a-f]{6}\b", template + render_svg(case.recording, case.summary)))
    known = {value for name, value in vars(palette).items() if name.isupper() and isinstance(value, str)}
    assert used <= known | {"#eef1f3"}  # the tint behind readings that do not count, with their use in words beside


def test_systolic_and_diastolic_differ_in_grey_by_their_marks() -> None:
    """Both are dark in print, so the marks differ: full discs above, rings below, and names at the end."""
    case = BY_NAME["clock-change"]
    picture = render_svg(case.recording, case.summary)
    discs = re.findall(r'stroke="(#\w+)" stroke-width="([\d.]+)" stroke-linecap="round"', picture)
    assert discs == [(palette.SYSTOLIC, "4"), (palette.DIASTOLIC, "4"), (palette.PAPER, "2.4")]
    assert ">systolic<" in picture
    assert ">diastolic<" in picture


def test_printed_in_grey_text_and_course_keep_their_contrast() -> None:
    page = pictures(pdf_of("adequate"), 2)[0].convert("L")
    lowest, highest = page.getextrema()
    assert highest == 255
    assert lowest < 40
