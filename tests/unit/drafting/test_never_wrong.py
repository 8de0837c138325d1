"""No draft, when tried, may read another time or value than the truth unless it asks about that very field."""

import os
from collections import Counter
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings

from gateway.drafting import Draft, NoDraft, propose
from gateway.model import HoldReason, Recording
from tests.unit.drafting.exports import WORDS, Layout, Truth, as_columns, as_json, layouts, recordings, tried, written

NOW = datetime(2026, 11, 1, tzinfo=UTC)
ABOUT_TIMES = {"readings.time", "format.delimiter", "format.cuts"}
ABOUT_VALUES = {"readings.unit", "readings.marks", "readings.status"}
ABOUT_HOLDS = {
    HoldReason.UNITS_DOUBTFUL: {"readings.unit"},
    HoldReason.VALUE_UNREADABLE: {"readings.status", "readings.marks", "format.decimal", "format.delimiter"},
}
"""which question must stand in a draft whose own file is held; every other hold is about time"""
OTHER_FORMS = {"json": as_json, "fixed-width": as_columns}
EXAMPLES = int(os.environ.get("DRAFT_EXAMPLES", "500"))


def test_what_a_draft_does_not_ask_about_is_read_as_it_was() -> None:
    """The generated files must reach every end too, or this would hold for no reason."""
    seen: Counter[str] = Counter()

    @settings(max_examples=EXAMPLES, deadline=None, derandomize=True, database=None)
    @given(layout=layouts(), truth=recordings())
    def judge(layout: Layout, truth: list[Truth]) -> None:
        content, known = written(truth, layout)
        seen.update(_judged(propose(content, WORDS, NOW), content, known))

    judge()
    assert seen["read"] > EXAMPLES // 3, seen
    assert seen["times asked about"] > EXAMPLES // 100, seen
    assert seen["time proven"] > EXAMPLES // 20, seen


def _judged(draft: Draft | NoDraft, content: bytes, known: list[Truth]) -> list[str]:
    if isinstance(draft, NoDraft):
        return ["no draft"]
    proven = [] if "readings.time" in draft.questions else ["time proven"]
    read = tried(draft, content)
    if not isinstance(read, Recording):
        assert draft.questions & ABOUT_HOLDS.get(read.reason, ABOUT_TIMES), (read, draft.text)
        return ["held"]
    return ["read", *proven, *_times(draft, read, known), *_values(draft, read, known)]


def _times(draft: Draft, read: Recording, known: list[Truth]) -> list[str]:
    shown = [each.at.replace(tzinfo=None) for each in read.readings]
    if shown == [each.at for each in known]:
        return []
    assert draft.questions & ABOUT_TIMES, draft.text
    return ["times asked about"]


def _values(draft: Draft, read: Recording, known: list[Truth]) -> list[str]:
    wrong = []
    for name in ("systolic", "diastolic", "heart_rate"):
        shown = [getattr(each, name) for each in read.readings]
        if shown != [getattr(each, name) for each in known]:
            assert draft.questions & (ABOUT_VALUES | {f"readings.{name}"}), draft.text
            wrong.append(name)
    return ["values asked about"] if wrong else []


@pytest.mark.parametrize("form", sorted(OTHER_FORMS))
def test_nor_in_another_form(form: str) -> None:
    """The same cells as JSON, and in columns of fixed width."""
    seen: Counter[str] = Counter()

    @settings(max_examples=EXAMPLES // 4, deadline=None, derandomize=True, database=None)
    @given(layout=layouts(), truth=recordings())
    def judge(layout: Layout, truth: list[Truth]) -> None:
        content, known = written(truth, layout)
        again = OTHER_FORMS[form](content.decode(layout.encoding), layout)
        seen.update(_judged(propose(again, WORDS, NOW), again, known))

    judge()
    assert seen["read"] > EXAMPLES // 16, seen
    assert seen["time proven"] > EXAMPLES // 100, seen
