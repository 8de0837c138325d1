"""Recording and summary as one printable page.

`render` gives the page as PDF (PDF/A-2a and PDF/UA-1), `render_svg` the course alone. Both draw only what
recording, summary and letterhead say, and give the same bytes for the same values.
"""

import json

from gateway.model import Recording, Summary
from gateway.report.headline import days_of
from gateway.report.letterhead import Letterhead, Paper
from gateway.report.notice import render_notice
from gateway.report.page import page_of, picture_of, stamp
from gateway.report.room import room_for
from gateway.report.typeset import ReportError, typeset
from gateway.report.words import languages, words_of

__all__ = ["Letterhead", "Paper", "ReportError", "languages", "render", "render_notice", "render_svg"]


SCREEN_HEIGHT = 225.0
"""points, beside a width of 516"""


def render(recording: Recording, summary: Summary, letterhead: Letterhead) -> bytes:
    """The report as PDF. The date of the document is the end of the recording.

    Raises ReportError when the page cannot be set and SettingsError for a language that is not there.
    """
    words = words_of(letterhead.language)
    page = page_of(recording, summary, letterhead, words)
    room = room_for(page, days_of(summary), letterhead.paper.value)
    page["together"] = room.together
    picture, told = picture_of(recording, summary, words, room.height)
    inputs = {"page": json.dumps(page, ensure_ascii=False), "course": picture, "told": told}
    return typeset(inputs, stamp(recording))


def render_svg(recording: Recording, summary: Summary, language: str = "en") -> str:
    """The course of pressure and heart rate as an SVG picture with its text alternative as title."""
    picture, _ = picture_of(recording, summary, words_of(language), SCREEN_HEIGHT)
    return picture
