"""A phrase is its English text everywhere, and still knows how it was put together."""

import copy
import pickle
from decimal import Decimal

import orjson

from gateway.model.phrase import Phrase, joined


def test_a_phrase_is_its_text() -> None:
    said = Phrase("{period} average {value} mmHg", period=Phrase("Awake"), value=Decimal("138.20"))
    assert said == "Awake average 138.20 mmHg"
    assert (said.template, said.parts["period"]) == ("{period} average {value} mmHg", "Awake")
    assert {said, "Awake average 138.20 mmHg"} == {said}


def test_text_of_others_may_hold_braces() -> None:
    assert Phrase("a {site} wrote this") == "a {site} wrote this"
    assert Phrase("note: {text}", text="{text} {0}") == "note: {text} {0}"


def test_phrases_are_joined_and_stay_phrases() -> None:
    said = joined("; ", [Phrase("one"), "two"])
    assert said == "one; two"
    assert [type(part) for part in said.parts.values()] == [Phrase, str]
    assert joined(" ", []) == ""


def test_a_phrase_is_written_as_text_and_survives_a_copy() -> None:
    said = Phrase("{count} readings", count=3)
    assert orjson.dumps({"said": said}) == b'{"said":"3 readings"}'
    for again in (pickle.loads(pickle.dumps(said)), copy.deepcopy(said)):
        assert (again, again.template, again.parts) == ("3 readings", said.template, {"count": 3})
