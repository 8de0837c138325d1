"""Source maps: what may be said, and what is said about a mistake."""

import json

import pytest

from gateway.errors import MappingError
from gateway.mapping.parse import parse
from gateway.mapping.source import SourceMap, places
from gateway.mapping.source_time import clock_expression, date_expression, expression, moment_expression
from tests.unit.read.told import ROOT

PLAIN = (ROOT / "mappings" / "sources" / "plain.toml").read_text("utf-8")


def faults(old: str, new: str) -> str:
    """What is said about the neutral map when a part of its text is another."""
    assert old in PLAIN
    with pytest.raises(MappingError) as caught:
        parse(PLAIN.replace(old, new, 1).encode(), SourceMap, "plain.toml")
    return str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        ("systolic = { column", "sistolic = { column", "readings.sistolic: unknown key; did you mean 'systolic'?"),
        ("delimiter =", "delimeter =", "did you mean 'delimiter'?"),
        ('fact = "sex"', 'fakt = "sex"', "person.sex.fakt: unknown key; did you mean 'fact'?"),
        ("[signs]", "[sings]", "sings: unknown key; did you mean 'signs'?"),
        ('others = "failed"', 'otherwise = "failed"', "did you mean 'others'?"),
        ('how = "instant", column', 'how = "instand", column', "does not match any of the expected tags: 'instant'"),
        ("[[diary.notes]]", "[[diary.note]]", "did you mean 'notes'?"),
        ("text = { fact", "texts = { fact", "diary.notes.0.texts: unknown key; did you mean 'text'?"),
        ('kind = "posture" }', 'kind = "posture", word = { s = "x" } }', "did you mean 'words'?"),
        ('columns = ["time"', 'cell = []\ncolumns = ["time"', "did you mean 'cells'?"),
        ('decimal = "."', 'decimal = "."\nfacts_agein = ["x"]', "did you mean 'facts_again'?"),
        ("title =", 'filename = "{A}.txt"\ntitle =', "did you mean 'file_name'?"),
        (
            'how = "instant", column = "time", patt',
            'how = "instant", column = "time", pat',
            "did you mean 'pattern'?",
        ),
    ],
)
def test_a_misspelt_word_is_answered_with_the_right_one(old: str, new: str, word: str) -> None:
    assert word in faults(old, new)


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        (
            '{ column = "systolic" }',
            '{ column = "systolic", fact = "s" }',
            "give exactly one of column, fact, file_name, constant",
        ),
        ('{ column = "systolic" }', "{}", "give exactly one of column, fact, file_name, constant"),
        ('{ column = "systolic" }', '{ constant = "120" }', "readings.systolic: a pressure stands in a column"),
        ('{ fact = "identifier" }', '{ column = "id" }', "person.identifier: a column belongs to one reading"),
        ('{ column = "mean" }', '{ column = "mean", part = 2 }', "part belongs to a fact"),
        ('pattern = "iso" }\nsex', 'pattern = "DD/MM" }\nsex', "the pattern has no year"),
        ('pattern = "iso" }\nsex', 'pattern = "DD/MM/YYYY hh:mm" }\nsex', "does not belong here"),
        ('pattern = "iso" }\nsex', 'pattern = "%d/%m/%Y" }\nsex', "is no sign of a time pattern"),
        ('pattern = "iso" }\nsex', 'pattern = "DD/DD/YYYY" }\nsex', "a sign stands twice"),
        ('unit = "mmHg"', 'unit = "cmH2O"', "readings.unit"),
        ('measured = ["measured"]', 'measured = ["ok"], failed = ["OK"]', "a code is either measured or failed"),
        ('pattern = "iso" }\nsex', 'pattern = "D MMM YYYY" }\nsex', "say the language of the month: MMM(en)"),
        ('pattern = "iso" }\nsex', 'pattern = "D MMM(xx) YYYY" }\nsex', "is no sign of a time pattern"),
        ('pattern = "iso" }\nsex', 'pattern = "D.MM. MMM(de) YYYY" }\nsex', "a sign stands twice"),
        ('{ column = "note" }', '{ fact = "note" }', "readings.note: each row has its own"),
        (
            '{ fact = "cuff_size" }',
            '{ file_name = "Cuff" }',
            "the pattern file_name at the top of the map has no {Cuff}",
        ),
        ("title =", 'file_name = "{A}{B}"\ntitle =', "there must be a text that parts them"),
        ('delimiter = ","', "cuts = [1, 9]", "format.delimited.cuts: unknown key"),
        ('kind = "delimited"\ndelimiter = ","', 'kind = "fixed-width"\ncuts = [2, 9]', "cuts: they begin with 1"),
        ('kind = "posture"', 'kind = "stance"', "readings.diary.1.kind"),
        ('delimiter = ","', 'delimiter = "a"', "cannot separate cells"),
        ('decimal = "."', 'decimal = "."\ncode_page = "windows-9999"', "there is no encoding"),
        ('decimal = "."', 'decimal = "."\ncode_page = "rot13"', "is no text encoding"),
        ('female = "female"', 'female = "woman"', "person.sex.codes.female"),
        ('columns = ["time", "systolic", "diastolic"]', "columns = []", "signs.columns"),
    ],
)
def test_a_map_that_cannot_mean_anything_is_refused(old: str, new: str, word: str) -> None:
    assert word in faults(old, new)


def test_every_fault_is_told_at_once() -> None:
    with pytest.raises(MappingError) as caught:
        parse(PLAIN.replace("delimiter", "x").replace('unit = "mmHg"', "unit = 1").encode(), SourceMap, "plain.toml")
    assert len(caught.value.problems) >= 3


def test_places_name_every_key_that_stands_somewhere() -> None:
    found = dict(places(parse(PLAIN.encode(), SourceMap, "plain.toml")))
    assert {"timezone", "person.identifier", "diary.asleep.0.woke", "readings.time", "readings.status"} <= set(found)
    assert len(found) == 1 + PLAIN.count("fact = ") - PLAIN.count("[site]\nfact") + PLAIN.count("column = ")


def test_the_schema_for_editors_can_be_written() -> None:
    schema = json.loads(json.dumps(SourceMap.model_json_schema()))
    assert schema["additionalProperties"] is False
    assert {"signs", "format", "person", "readings"} <= set(schema["required"])


@pytest.mark.parametrize(
    ("pattern", "right", "wrong"),
    [
        ("DD/MM/YYYY", ["05/06/2026"], ["5/6/2026", "05/06/26", "05-06-2026", "05/06/2026 ", "٠٥/٠٦/٢٠٢٦"]),
        ("D.M.YY", ["5.6.26", "05.06.26"], ["5.6.2026", "5x6x26"]),
        ("h:mm ap", ["1:05 PM", "01:05 p.m.", "12:00 am"], ["1:05", "13:05 XM", "1:05PM"]),
        ("YYYY-MM-DDThh:mm:sszz", ["2026-03-01T09:20:00Z", "2026-03-01T09:20:00+01:00"], ["2026-03-01 09:20:00Z"]),
    ],
)
def test_patterns_are_read_strictly(pattern: str, right: list[str], wrong: list[str]) -> None:
    assert all(expression(pattern).fullmatch(text) for text in right)
    assert not any(expression(pattern).fullmatch(text) for text in wrong)


def test_iso_is_iso_8601() -> None:
    """ISO 8601-1:2019: basic and extended forms are not mixed; a blank for the T is common (RFC 3339, 5.6)."""
    moment = moment_expression("iso")
    for text in (
        "2026-03-01T09:20",
        "2026-03-01 09:20:30",
        "20260301T0920",
        "20260301T092030Z",
        "2026-03-01T09:20:30.5+01",
    ):
        assert moment.fullmatch(text), text
    for text in (
        "2026-03-01",
        "01-03-2026T09:20",
        "2026-0301T09:20",
        "2026-03-01T09",
        "2026-03-01T9:20",
        "2026-03-01T09:2030",
    ):
        assert not moment.fullmatch(text), text
    assert date_expression("iso").fullmatch("20260301")
    assert not clock_expression("iso").fullmatch("7:00")


def test_the_guide_explains_every_key_of_a_map() -> None:
    guide = (ROOT / "mappings" / "README.md").read_text("utf-8")
    schema = SourceMap.model_json_schema()
    keys = {key for node in (schema, *schema["$defs"].values()) for key in node.get("properties", {})}
    assert {key for key in keys if key not in guide} == set()
    assert len(keys) > 50


def test_the_guides_list_of_the_neutral_layout_is_that_of_its_map() -> None:
    guide = (ROOT / "mappings" / "README.md").read_text("utf-8").partition("## The neutral layout")[2]
    for path, place in places(parse(PLAIN.encode(), SourceMap, "plain.toml")):
        assert (place.fact or place.column or "") in guide, path
