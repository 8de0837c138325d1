"""XML and JSON: paths of a map, and documents that mean harm."""

import json
from typing import Any

import pytest
from pydantic import ValidationError

from gateway.mapping.source import SourceMap
from gateway.model import HoldReason, Recording
from gateway.read import read
from tests.unit.read.layouts import SITE, a_map, held, lines, reason, recorded
from tests.unit.read.told import SAMPLES, shipped

XML = a_map(
    format={"kind": "xml", "rows": "m:set/m:one", "namespaces": {"m": "urn:example:m"}},
    signs={"columns": ["@taken", "m:upper"], "facts": ["m:who/@number"]},
    person={"identifier": {"fact": "m:who/@number"}},
    timezone={"fact": "m:zone"},
    readings={
        "time": {"how": "instant", "column": "@taken", "pattern": "iso"},
        "systolic": {"column": "m:upper"},
        "diastolic": {"column": "m:lower"},
        "heart_rate": {"column": "m:rate/@m:beats"},
    },
)
JSON = a_map(
    format={"kind": "json", "rows": "all/set"},
    signs={"columns": ["taken", "p/upper"], "facts": ["all/number"]},
    person={"identifier": {"fact": "all/number"}},
    timezone={"fact": "all/zone"},
    readings={
        "time": {"how": "instant", "column": "taken", "pattern": "iso"},
        "systolic": {"column": "p/upper"},
        "diastolic": {"column": "p/lower"},
        "heart_rate": {"column": "beats"},
    },
)
ONE = '<x:one taken="2026-03-03T09:20"><x:upper>131</x:upper><x:lower> 82.5 </x:lower><x:rate x:beats="71"/></x:one>'
READ = ["2026-03-03T09:20:00+00:00 measured 131.0/82.5 mean - pulse 71.0 scheduled"]


def xml(rows: str = ONE, start: str = "", number: str = "A0042") -> bytes:
    return f'{start}<x:all xmlns:x="urn:example:m"><x:who number="{number}"/><x:set>{rows}</x:set></x:all>'.encode()


def js(*rows: str, number: str = '"A0042"') -> bytes:
    return f'{{"all": {{"number": {number}, "set": [{", ".join(rows)}]}}}}'.encode()


ROW = '{"taken": "2026-03-03T09:20", "p": {"upper": 131, "lower": 82.5}, "beats": 71}'


def test_paths_attributes_and_namespaces_whatever_the_prefix() -> None:
    assert lines(xml(), XML) == READ


def test_another_namespace_is_another_document() -> None:
    assert reason(xml().replace(b"urn:example:m", b"urn:example:n"), XML) is HoldReason.NO_MAP


def test_utf16_by_its_mark_is_read() -> None:
    assert lines(xml().decode().encode("utf-16"), XML) == READ


@pytest.mark.parametrize(
    "start",
    [
        '<!DOCTYPE a [<!ENTITY b "b"><!ENTITY c "&b;&b;">]>',
        '<!DOCTYPE a SYSTEM "file:///etc/passwd">',
        "<!DOCTYPE a>",
    ],
)
def test_a_document_type_is_refused(start) -> None:
    assert reason(xml(start=start), XML) is HoldReason.FILE_HOSTILE


def test_nesting_and_numbers_of_elements_are_limited() -> None:
    assert reason(xml("<x:a>" * 60 + "</x:a>" * 60), XML) is HoldReason.FILE_HOSTILE
    assert reason(xml("<x:a/>" * 300_001), XML) is HoldReason.FILE_HOSTILE


def test_whitespace_without_end_is_too_large() -> None:
    assert reason(xml(" " * 17_000_000), XML) is HoldReason.FILE_TOO_LARGE


def test_damage_is_told_with_its_line() -> None:
    assert held(xml()[:-20], XML).detail == "the XML is damaged in line 1"


def test_two_values_in_one_place_hold_the_file() -> None:
    twice = ONE.replace("<x:lower>", "<x:upper>125</x:upper><x:lower>")
    assert reason(xml(twice), XML) is HoldReason.FACTS_DISAGREE
    two = '<x:who number="A0043"/>'
    assert reason(xml(start="").replace(b"<x:set>", two.encode() + b"<x:set>"), XML) is HoldReason.FACTS_DISAGREE


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("a//b", "is no path"),
        ("a/../b", "is no path"),
        ("z:a/@b", "'z' in"),
        ("*", "is no path"),
        ("WHO", "capitals"),
    ],
)
def test_a_wrong_path_is_refused_in_the_map(path, words) -> None:
    kept = {**XML.model_dump(exclude_none=True), "kept": ["who", path]}
    with pytest.raises(ValidationError, match=words):
        SourceMap.model_validate(kept)


def test_json_paths_and_exact_numbers() -> None:
    assert lines(js(ROW), JSON) == READ


def test_a_blank_and_a_missing_value_are_missing() -> None:
    row = '{"taken": "2026-03-03T09:20", "p": {"upper": 131, "lower": null}}'
    assert lines(js(ROW, row), JSON)[1] == "2026-03-03T09:20:00+00:00 measured 131.0/- mean - pulse - scheduled"


def test_a_number_of_a_person_that_stood_as_a_number_is_held() -> None:
    assert reason(js(ROW, number="42"), JSON) is HoldReason.VALUE_UNREADABLE
    assert recorded(js(ROW, number='"0042"'), JSON).person.identifier.value == "0042"


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (js(ROW.replace("71", '71, "beats": 72')), HoldReason.FACTS_DISAGREE),
        (js(ROW.replace("71", "NaN")), HoldReason.FILE_UNREADABLE),
        (js(ROW)[:-3], HoldReason.FILE_UNREADABLE),
        (js(ROW.replace("131", "[131, 132]")), HoldReason.FACTS_DISAGREE),
        (js(ROW.replace("131", '{"a": 1}')), HoldReason.VALUE_UNREADABLE),
        (b"[" * 200_000, HoldReason.FILE_HOSTILE),
        (js("[" + "0," * 600_000 + "0]"), HoldReason.FILE_HOSTILE),
        (json.dumps({"all": {}}).encode(), HoldReason.NO_MAP),
    ],
)
def test_json_that_cannot_be_trusted_is_held(content, expected) -> None:
    assert reason(content, JSON) is expected


def test_a_huge_number_is_no_pressure_and_costs_no_time() -> None:
    assert lines(js(ROW.replace("131", "1" * 400_000), ROW), JSON)[1:] == READ
    assert lines(js(ROW.replace("131", "1e400"), ROW), JSON)[1:] == READ


@pytest.mark.parametrize("cut", ["1<x:b/>31", "131<x:b>0</x:b>", "<x:b/>131"])
def test_a_value_with_an_element_inside_is_not_cut(cut) -> None:
    assert reason(xml(ONE.replace("131", cut)), XML) is HoldReason.VALUE_UNREADABLE


def test_a_comment_inside_a_value_does_not_cut_it() -> None:
    assert lines(xml(ONE.replace("131", "1<!-- -->31")), XML) == READ


def with_sleep(source: SourceMap, begins: str, ends: str) -> SourceMap:
    whole = source.model_dump(exclude_none=True)
    both = {
        name: {"how": "instant", "fact": fact, "pattern": "iso"}
        for name, fact in (("fell_asleep", begins), ("woke", ends))
    }
    return SourceMap.model_validate({**whole, "diary": {"asleep": [both]}})


def test_halves_of_two_sleeps_are_no_sleep() -> None:
    source = with_sleep(XML, "m:sleep/@from", "m:sleep/@to")
    nap, night = 'from="2026-03-03T13:00"', 'to="2026-03-04T07:00"'
    start = xml().replace(b"<x:set>", f"<x:sleep {nap}/><x:sleep {night}/><x:set>".encode())
    assert reason(start, source) is HoldReason.SLEEP_DOUBTFUL
    whole = xml().replace(b"<x:set>", f"<x:sleep/><x:sleep {nap} {night}/><x:set>".encode())
    assert len(recorded(whole, source).diary.asleep) == 1


def test_halves_of_two_sleeps_in_elements_are_no_sleep() -> None:
    source = with_sleep(XML, "m:sleep[@kind='a/b']/m:from", "m:sleep[@kind='a/b']/m:to")
    nap, night = "<x:from>2026-03-03T13:00</x:from>", "<x:to>2026-03-04T07:00</x:to>"
    start, end = "<x:sleep kind='a/b'>", "</x:sleep>"
    halves = xml().replace(b"<x:set>", f"{start}{nap}{end}{start}{night}{end}<x:set>".encode())
    assert reason(halves, source) is HoldReason.SLEEP_DOUBTFUL
    whole = xml().replace(b"<x:set>", f"{start}{end}{start}{nap}{night}{end}<x:set>".encode())
    assert len(recorded(whole, source).diary.asleep) == 1


def test_halves_of_two_sleeps_in_json_are_no_sleep() -> None:
    source = with_sleep(JSON, "all/sleep/from", "all/sleep/to")
    nap, night = '"from": "2026-03-03T13:00"', '"to": "2026-03-04T07:00"'
    content = js(ROW).replace(b'"set"', f'"sleep": [{{{nap}}}, {{{night}}}], "set"'.encode())
    assert reason(content, source) is HoldReason.SLEEP_DOUBTFUL
    whole = js(ROW).replace(b'"set"', f'"sleep": [{{}}, {{{nap}, {night}}}], "set"'.encode())
    assert len(recorded(whole, source).diary.asleep) == 1


def test_what_no_path_reaches_is_counted_and_never_quoted() -> None:
    xml = (SAMPLES / "quillmere-layout.xml").read_bytes()
    more = xml.replace(b"<Beats>73</Beats>", b'<Beats>73</Beats><Mood of="x">secret</Mood>')
    (quillmere,) = shipped("quillmere")
    assert recorded(more, quillmere).source.remarks == ("2 elements and attributes: not known to the map, not used",)
    data = json.loads((SAMPLES / "osier-layout.dat").read_bytes())
    data["osier"]["tries"][0]["mood"] = "secret"
    data["osier"]["secret"] = {"deep": [1, 2]}
    (osier,) = shipped("osier")
    assert recorded(json.dumps(data).encode(), osier).source.remarks == (
        "2 paths of the document: not known to the map, not used",
    )
    ignoring = osier.model_copy(update={"ignored": ("mood", "osier/secret/deep")})
    assert recorded(json.dumps(data).encode(), ignoring).source.remarks == ()


@pytest.mark.parametrize("half", ["\\ud800", "\\uDC00", "x\\udbff y"])
def test_half_a_letter_holds_the_file(half: str) -> None:
    text = (SAMPLES / "osier-layout.dat").read_text("utf-8")
    (osier,) = shipped("osier")
    assert reason(text.replace('"9990000042"', f'"{half}"').encode(), osier) is HoldReason.FILE_ENCODING
    whole = text.replace('"the white one"', '"\\ud83d\\ude00 \\\\ud800"').encode()
    assert recorded(whole, osier).diary.notes[0].text == "\U0001f600 \\ud800"


def test_a_file_is_parsed_once_however_many_maps_look_at_it(monkeypatch: pytest.MonkeyPatch) -> None:
    parsed: list[int] = []
    loads = json.loads

    def counting(text: str, **how: Any) -> Any:
        parsed.append(1)
        return loads(text, **how)

    content = (SAMPLES / "osier-layout.dat").read_bytes()
    monkeypatch.setattr("gateway.read.tree_json.json.loads", counting)
    assert isinstance(read(content, "x", shipped(), SITE), Recording)
    assert len(parsed) == 1
