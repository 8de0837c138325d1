"""The page that stands in place of a withdrawn report. It names nobody: it lies in the record of the wrong person."""

import json
from datetime import UTC, datetime

from gateway.report.letterhead import Letterhead
from gateway.report.text import long_date, plain
from gateway.report.typeset import NOTICE, typeset
from gateway.report.words import words_of


def render_notice(began: datetime, ended: datetime, at: datetime, letterhead: Letterhead) -> bytes:
    """The notice as PDF (PDF/A-2a and PDF/UA-1). `began` and `ended` bound the recording, `at` is when it was
    withdrawn; all aware, printed in the offset they carry.

    Raises ReportError when the page cannot be set and SettingsError for a language that is not there.
    """
    words = words_of(letterhead.language)
    moment = at.astimezone(UTC)
    page = {
        "language": words.language,
        "paper": letterhead.paper.value,
        "at": [moment.year, moment.month, moment.day, moment.hour, moment.minute, moment.second],
        "kind": words["title"],
        "title": words["withdrawn"],
        "what": words.say(
            "withdrawn-what", day=long_date(at.date(), words), time=f"{at:%H:%M}", offset=at.isoformat()[-6:]
        ),
        "do": words["withdrawn-do"],
        "of": words.say("withdrawn-of", start=f"{began:%Y-%m-%d %H:%M}", end=f"{ended:%Y-%m-%d %H:%M}"),
        "why": words["withdrawn-why"],
        "foot": [text for text in (plain(letterhead.organisation), plain(letterhead.software)) if text],
    }
    return typeset({"page": json.dumps(page, ensure_ascii=False)}, int(moment.timestamp()), NOTICE)
