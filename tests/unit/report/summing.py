"""From a recording to its summary by the real chain, against a shipped guideline."""

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
def rules(review: ReviewRule | None = None, guideline: str = "esc-2024") -> Rules:
    shipped = maps.load(None)
    return Rules(
        guideline=shipped.guidelines[guideline],
        limits=shipped.limits["widest"],
        review=review,
        person=PersonRules(systems={NHS: "gb.nhs"}),
    )


def summary_of(recording: Recording, review: ReviewRule | None = None, guideline: str = "esc-2024") -> Summary:
    """The hold is lifted, so that a page can also be seen of what would wait for a person."""
    chosen = rules(review, guideline)
    examined = examine(recording, chosen, SEEN_ON)
    return summarise(recording, replace(examined, hold=None), chosen)
