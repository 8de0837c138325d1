"""From a recording to its summary by the real chain, against the shipped ESC 2024 file."""

from dataclasses import replace
from datetime import UTC, datetime
from functools import cache

from gateway.analyse import summarise
from gateway.mapping.rules import PersonRules, ReviewRule, Rules
from gateway.model import Recording, Summary
from gateway.settings import maps
from gateway.validate import examine
from tests.builders import NHS

SEEN_ON = datetime(2026, 4, 2, 12, 0, tzinfo=UTC)


@cache
def rules(review: ReviewRule | None = None) -> Rules:
    shipped = maps.load(None)
    return Rules(
        guideline=shipped.guidelines["esc-2024"],
        limits=shipped.limits["widest"],
        review=review,
        person=PersonRules(systems={NHS: "gb.nhs"}),
    )


def summary_of(recording: Recording, review: ReviewRule | None = None) -> Summary:
    """The hold is lifted, so that a page can also be seen of what would wait for a person."""
    examined = examine(recording, rules(review), SEEN_ON)
    return summarise(recording, replace(examined, hold=None), rules(review))
