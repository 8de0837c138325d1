"""Everything that stands on the page, as plain text and lists: the template only places it."""

from datetime import UTC, datetime

from gateway.model import Recording, Summary
from gateway.report.alternative import alternative
from gateway.report.cards import cards
from gateway.report.facts import cautions, facts, notes, origin, standing_cautions
from gateway.report.headline import (
    Json,
    days_of,
    last_test,
    person_lines,
    stands_out,
    status,
    verdict,
    worn,
)
from gateway.report.letterhead import Letterhead
from gateway.report.plot import draw
from gateway.report.questions import questions
from gateway.report.scene import scene_of
from gateway.report.tables import (
    FURTHER_ROWS,
    FURTHER_WHOLE_ROWS,
    PERIOD_ROWS,
    WHOLE_ROWS,
    Reasons,
    counts,
    every_reading,
    numbers,
    whole_recording,
)
from gateway.report.text import long_date, plain
from gateway.report.words import Words

COURSE_WIDTH = 516.0
"""points: the width of the text on A4"""


def page_of(recording: Recording, summary: Summary, letterhead: Letterhead, words: Words) -> Json:
    """The content of the page, ready for JSON."""
    reasons = Reasons(words["not-computable"])
    ended = recording.ended.astimezone(UTC)
    return {
        "language": words.language,
        "paper": letterhead.paper.value,
        "ended": [ended.year, ended.month, ended.day, ended.hour, ended.minute, ended.second],
        "title": words["title"],
        "subject": words.say("subject", day=long_date(recording.began.date(), words)),
        "organisation": plain(letterhead.organisation, 70),
        "site": plain(recording.site or "", 60),
        "software": plain(letterhead.software, 60),
        "person": person_lines(recording, words),
        "worn": [words["worn"], worn(recording, words)],
        "status": status(summary, letterhead, words),
        "review": plain(summary.review.sentence, 240),
        "verdict": verdict(summary, words),
        "why-not": "" if summary.rules.interpreted else plain(summary.rules.why_not, 200),
        "cards": cards(summary, letterhead, words),
        "questions": questions(recording, summary, words),
        "stands-out": [words["stands-out"], stands_out(summary)],
        "last-test": [words["last-test"], last_test(summary)],
        "course": words["course"],
        "notes": [words["notes"], notes(recording, words)],
        "numbers-title": words["numbers"],
        "numbers": numbers(summary, words, reasons, PERIOD_ROWS),
        "counts-title": words["counts"],
        "counts": counts(summary, words),
        "whole": whole_recording(summary, words, reasons, WHOLE_ROWS),
        "reasons": reasons.lines,
        "not-computable": words["not-computable"],
        "facts": [words["how"], facts(recording, summary, words), origin(recording, letterhead, words)],
        "cautions": [words["cautions"], cautions(summary, words), standing_cautions(words)],
        "appendix": _appendix(recording, summary, words) if letterhead.readings else None,
        "page-of": words["page"],
        "days": days_of(summary),
    }


def _appendix(recording: Recording, summary: Summary, words: Words) -> Json:
    reasons = Reasons(words["not-computable"])
    return {
        "title": words["further"],
        "numbers": numbers(summary, words, reasons, FURTHER_ROWS),
        "whole": whole_recording(summary, words, reasons, FURTHER_WHOLE_ROWS),
        "reasons": reasons.lines,
        "readings": every_reading(recording, summary, words),
    }


def picture_of(recording: Recording, summary: Summary, words: Words, height: float) -> tuple[str, str]:
    """The course as SVG of that height in points, and the same in words."""
    scene = scene_of(recording, summary)
    told = alternative(recording, summary, scene, words)
    return draw(scene, words, COURSE_WIDTH, height, told), told


def stamp(recording: Recording) -> int:
    """Seconds since 1970 of the end of the recording: the date of the document."""
    return int(datetime.fromtimestamp(recording.ended.timestamp(), UTC).timestamp())
