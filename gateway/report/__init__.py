"""Recording and summary as one printable page.

`render` gives the page as PDF (PDF/A-2a and PDF/UA-1), `render_svg` the course alone. Both draw only what
recording, summary and letterhead say, and give the same bytes for the same values.
"""

import json

from gateway.model import Recording, Summary
from gateway.report.letterhead import Letterhead, Paper
from gateway.report.page import page_of, picture_of, stamp
from gateway.report.typeset import ReportError, typeset
from gateway.report.words import languages, words_of

__all__ = ["Letterhead", "Paper", "ReportError", "languages", "render", "render_svg"]


def render(recording: Recording, summary: Summary, letterhead: Letterhead) -> bytes:
    """The report as PDF. The date of the document is the end of the recording.

    Raises ReportError when the page cannot be set and SettingsError for a language that is not there.
    """
    words = words_of(letterhead.language)
    picture, told = picture_of(recording, summary, words)
    page = json.dumps(page_of(recording, summary, letterhead, words), ensure_ascii=False)
    return typeset({"page": page, "course": picture, "told": told}, stamp(recording))


def render_svg(recording: Recording, summary: Summary, language: str = "en") -> str:
    """The course of pressure and heart rate as an SVG picture with its text alternative as title."""
    picture, _ = picture_of(recording, summary, words_of(language))
    return picture
