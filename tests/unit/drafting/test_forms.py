"""Drafts of XML, JSON and text of fixed width read what the layout's own map reads, and ask what they do not know.

The samples are those that the shipped maps read, with other words where theirs are invented ones.
"""

import json
import tomllib
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from time import process_time
from typing import Any

import pytest

from gateway.drafting import Draft, NoDraft, propose
from gateway.mapping.parse import parse
from gateway.mapping.source import SourceMap
from gateway.model import Hold, Recording
from gateway.read import read
from tests.unit.drafting.exports import SITE, WORDS
from tests.unit.read.told import SAMPLES, shipped

NOW = datetime(2026, 11, 1, tzinfo=UTC)
RENAMED = {
    "osier-layout.dat": {"taken": "time", "top": "systolic", "bottom": "diastolic"},
    "quillmere-layout.xml": {
        'end="top"': 'end="sys"',
        'end="bottom"': 'end="dia"',
        " at=": " time=",
        " went=": " status=",
        "Worn by=": "Worn id=",
        " mark=": " serial=",
    },
    "skellow-layout_SK-09_20260303.txt": {"Who:": "Id:", "Clock  Up   Down Beat": "Time   Sys  Dia  HR  "},
}


def renamed(name: str) -> bytes:
    content = (SAMPLES / name).read_bytes()
    for old, new in RENAMED[name].items():
        assert old.encode() in content
        content = content.replace(old.encode(), new.encode())
    return content


def drafted(content: bytes, name: str = "export") -> Draft:
    found = propose(content, WORDS, NOW, name)
    assert isinstance(found, Draft), found
    return found


def tried(draft: Draft, content: bytes, name: str = "export") -> Recording | Hold:
    source = parse(draft.text.encode(), SourceMap, "draft")
    assert source.draft, "no draft reads files by itself"
    assert isinstance(read(content, name, [source], SITE), Hold)
    return read(content, name, [source.model_copy(update={"draft": False})], SITE)


def keys(draft: Draft) -> dict[str, Any]:
    return tomllib.loads(draft.text)


@pytest.mark.parametrize("name", sorted(RENAMED))
def test_the_samples_with_other_words_are_read_as_by_their_own_maps(name: str) -> None:
    truth = read((SAMPLES / name).read_bytes(), name, shipped(), SITE)
    content = renamed(name)
    draft = drafted(content, name)
    found = tried(draft, content, name)
    assert isinstance(found, Recording) and isinstance(truth, Recording), found
    assert [each.at.replace(tzinfo=None) for each in found.readings] == [
        each.at.replace(tzinfo=None) for each in truth.readings
    ]
    for part in ("row", "outcome", "systolic", "diastolic", "mean", "heart_rate"):
        assert [getattr(each, part) for each in found.readings] == [getattr(each, part) for each in truth.readings]
    assert found.person.identifier is not None and truth.person.identifier is not None
    assert found.person.identifier.value == truth.person.identifier.value
    assert found.monitor.serial in (truth.monitor.serial, None)


ANSWERS = {
    "osier-layout.dat": {},
    "quillmere-layout.xml": {'{ fact = "identifier" }': '{ fact = "n1:Worn/@by" }'},
    "tarnholt-layout.xlsx": {},
}
"""what somebody who knows the layout writes in place of a line that is marked as an open question"""


@pytest.mark.parametrize("name", sorted(ANSWERS))
def test_samples_whose_words_are_known_are_read_once_the_questions_are_answered(name: str) -> None:
    content = (SAMPLES / name).read_bytes()
    truth = read(content, name, shipped(), SITE)
    text = drafted(content, name).text
    for open_, answer in ANSWERS[name].items():
        assert open_ in text
        text = text.replace(open_, answer)
    answered = parse(text.replace("draft = true", "draft = false").encode(), SourceMap, "answered")
    found = read(content, name, [answered], SITE)
    assert isinstance(found, Recording) and isinstance(truth, Recording), found
    for part in ("row", "outcome", "systolic", "diastolic", "mean", "heart_rate"):
        assert [getattr(each, part) for each in found.readings] == [getattr(each, part) for each in truth.readings]
    assert [each.at.replace(tzinfo=None) for each in found.readings] == [
        each.at.replace(tzinfo=None) for each in truth.readings
    ]
    assert found.person.identifier is not None and truth.person.identifier is not None
    assert found.person.identifier.value == truth.person.identifier.value


@pytest.mark.parametrize("name", sorted(RENAMED))
def test_every_guess_is_marked_and_nothing_of_the_person_stands_in_it(name: str) -> None:
    draft = drafted(renamed(name), name)
    lines = draft.text.splitlines()
    for guess in (each for each in draft.guesses if each.evidence):
        at = next(n for n, line in enumerate(lines) if line.startswith(f"{guess.key.rpartition('.')[2]} = "))
        assert lines[at - 1].startswith("# CONFIRM: ")
    for secret in ("9990000042", "9990000034", "1950", "René", "Ashby", "Noël", "tablets", "20260303", "SK-09"):
        assert secret not in draft.text.replace("osier/wearer/tablets", ""), secret


AT = [datetime(2026, 3, 13, 9, 15) + timedelta(minutes=45 * n) for n in range(30)]  # noqa: DTZ001
PRESSURES = [(120 + n, 75 + n % 9, 60 + n) for n in range(30)]
ROWS = list(zip(AT, PRESSURES, strict=True))


def as_json(when: Callable[[datetime], str] = datetime.isoformat) -> bytes:
    rows = [{"bp": {"sys": s, "dia": d}, "pulseRate": p, "at": {"time": when(at)}} for at, (s, d, p) in ROWS]
    return json.dumps({"patient": {"number": "A0042", "dateOfBirth": "1961-04-09"}, "data": {"list": rows}}).encode()


def as_xml(when: Callable[[datetime], str] = datetime.isoformat) -> bytes:
    rows = "".join(
        f'<Reading time="{when(at)}">'
        f'<Value code="SYS" v="{s}"/><Value code="DIA" v="{d}"/><Pulse>{p}</Pulse></Reading>'
        for at, (s, d, p) in ROWS
    )
    return f'<Study><Patient id="A0042"/><Serial>B7</Serial><All>{rows}</All></Study>'.encode()


def as_columns(when: Callable[[datetime], str] = lambda at: f"{at:%Y-%m-%d %H:%M}") -> bytes:
    lines = [f"{'Date/Time':<18}{'Sys':>5}{'Dia':>5}  {'Heart rate':<12}"]
    lines += [f"{when(at):<18}{s:>5}{d:>5}  {p:<12}" for at, (s, d, p) in ROWS]
    return ("Patient ID: A0042\n\n" + "\n".join(lines) + "\n").encode()


FORMS = {"json": as_json, "xml": as_xml, "fixed-width": as_columns}


@pytest.mark.parametrize("kind", sorted(FORMS))
def test_a_whole_day_is_read_as_it_was(kind: str) -> None:
    content = FORMS[kind]()
    draft = drafted(content)
    found = tried(draft, content)
    assert isinstance(found, Recording), found
    assert keys(draft)["format"]["kind"] == kind
    assert [each.at.replace(tzinfo=None) for each in found.readings] == AT
    assert [(each.systolic, each.diastolic, each.heart_rate) for each in found.readings] == [
        (10 * s, 10 * d, 10 * p) for s, d, p in PRESSURES
    ]
    assert found.person.identifier is not None and found.person.identifier.value == "A0042"
    assert not draft.questions & {"readings.time", "readings.unit", "readings.systolic", "readings.diastolic"}


@pytest.mark.parametrize("kind", sorted(FORMS))
@pytest.mark.parametrize(("day", "asked"), [(13, False), (3, True)])
def test_day_and_month_are_proven_by_the_whole_file_or_asked_about(kind: str, day: int, asked: bool) -> None:
    """3 March to 4 March reads as well as March and April: only a day above twelve, or midnight, tells."""
    rows = 30 if not asked else 6
    began = datetime(2026, 3, day, 13, 0)  # noqa: DTZ001
    moments = {at: began + timedelta(minutes=45 * n) for n, at in enumerate(AT)}
    content = FORMS[kind](lambda at: f"{moments[at]:%d/%m/%Y %H:%M}")
    if asked:
        content = only_first(content, kind, rows)
    draft = drafted(content)
    assert ("readings.time" in draft.questions) is asked
    assert isinstance(tried(draft, content), Recording)
    assert keys(draft)["readings"]["time"]["pattern"].startswith("DD/MM/YYYY")


def only_first(content: bytes, kind: str, rows: int) -> bytes:
    if kind == "json":
        root = json.loads(content)
        root["data"]["list"] = root["data"]["list"][:rows]
        return json.dumps(root).encode()
    if kind == "xml":
        parts = content.split(b"</Reading>")
        return b"</Reading>".join([*parts[:rows], parts[-1]])
    return b"\n".join(content.split(b"\n")[: 3 + rows]) + b"\n"


@pytest.mark.parametrize("kind", sorted(FORMS))
def test_kpa_is_taken_by_its_range_and_asked_about_where_nothing_says_it(kind: str) -> None:
    content = FORMS[kind]()
    for s, d, _ in sorted(PRESSURES, reverse=True):
        for value in (s, d):
            kpa = f"{value * 0.133322:.1f}"
            for form in (f'"{value}"', f" {value}}}", f" {value},"):
                content = content.replace(form.encode(), form.replace(str(value), kpa).encode())
    if kind == "fixed-width":
        lines = [f"{'Date/Time':<18}{'Sys':>6}{'Dia':>6}"]
        lines += [f"{at:%Y-%m-%d %H:%M}  {s * 0.133322:>6.1f}{d * 0.133322:>6.1f}" for at, (s, d, _) in ROWS]
        content = ("\n".join(lines) + "\n").encode()
    draft = drafted(content)
    assert keys(draft)["readings"]["unit"] == "kPa"
    assert "readings.unit" in draft.questions


def test_a_list_that_is_the_whole_document_is_read() -> None:
    rows = [{"patient id": "A0042", "time": at.isoformat(), "sys": s, "dia": d} for at, (s, d, _) in ROWS]
    content = json.dumps(rows).encode()
    draft = drafted(content)
    assert keys(draft)["format"]["rows"] == ""
    found = tried(draft, content)
    assert isinstance(found, Recording) and len(found.readings) == len(ROWS)
    assert "person.identifier" in draft.questions, "no fact stands outside the readings"


def test_a_second_list_of_readings_is_a_question() -> None:
    root = json.loads(as_json())
    root["averages"] = root["data"]["list"][:3]
    assert "format.rows" in drafted(json.dumps(root).encode()).questions


def test_namespaces_get_prefixes_of_ours() -> None:
    content = as_xml().replace(b"<Study>", b'<Study xmlns="urn:example:study">')
    draft = drafted(content)
    assert list(keys(draft)["format"]["namespaces"].values()) == ["urn:example:study"]
    assert isinstance(tried(draft, content), Recording)


def test_a_value_of_an_attribute_that_names_nothing_common_never_becomes_a_path() -> None:
    """`by` differs from reading to reading and may be a person: it tells no columns apart."""
    rows = "".join(
        f'<R time="{at.isoformat()}" sys="{s}" dia="{d}"><Said by="Nurse {n}">a</Said><Said by="Dr {n}">b</Said></R>'
        for n, (at, (s, d, _)) in enumerate(ROWS)
    )
    draft = drafted(f"<A>{rows}</A>".encode())
    assert "Nurse" not in draft.text and "Dr " not in draft.text


@pytest.mark.parametrize(
    ("name", "pattern"),
    [
        ("skellow-layout_SK-09_20260303.txt", "*_*_{Day}.*"),
        ("20260303.txt", "{Day}.*"),
        ("Anybody 2026-03-03 x.txt", "* {Day} *"),
    ],
)
def test_a_date_in_the_name_of_the_file_is_used_and_nothing_else_of_it(name: str, pattern: str) -> None:
    draft = drafted(renamed("skellow-layout_SK-09_20260303.txt"), name)
    assert keys(draft)["file_name"] == pattern
    assert {"file_name", "readings.time"} <= draft.questions
    assert "Anybody" not in draft.text


@pytest.mark.parametrize("name", ["export.txt", "20260303-20260304.txt", "a20260303.txt", "x_20260303"])
def test_without_one_certain_date_there_is_no_draft(name: str) -> None:
    assert isinstance(propose(renamed("skellow-layout_SK-09_20260303.txt"), WORDS, NOW, name), NoDraft)


@pytest.mark.parametrize(("name", "said"), [("fhir-bundle.dat", "FHIR"), ("hl7-oru.hl7", "HL7")])
def test_for_standards_the_shipped_map_is_named(name: str, said: str) -> None:
    found = propose((SAMPLES / name).read_bytes(), WORDS, NOW, name)
    assert isinstance(found, NoDraft) and said in found.sentence


@pytest.mark.parametrize(
    "content",
    [
        b"{}",
        b"[]",
        b"[1, 2]",
        b'{"a": [{"b": 1}]}',
        b"<a/>",
        b"<a><b c='1'/></a>",
        b"<a",
        b'{"a"',
        b'<!DOCTYPE a [<!ENTITY b "bb">]><a>&b;</a>',
        b"Sys  Dia\n120   80\n",
    ],
)
def test_what_holds_no_readings_gives_a_sentence(content: bytes) -> None:
    found = propose(content, WORDS, NOW)
    assert isinstance(found, NoDraft) and len(found.sentence) > 20


@pytest.mark.parametrize(
    "content",
    [
        b'{"a":' * 900 + b"1" + b"}" * 900,
        b"[" * 900 + b"]" * 900,
        json.dumps([{f"k{n}": n for n in range(100_000)}]).encode(),
        json.dumps({f"k{n}": [{"sys": 1, "dia": 2, "time": "x"}] for n in range(30_000)}).encode(),
        b"<a>" + b"".join(b"<b%d c='1'/>" % n for n in range(60_000)) + b"</a>",
        b"<a>" + b"<b t='1'><c d='sys'/></b>" * 60_000 + b"</a>",
        b"Time   Sys  Dia\n" + b"09:00  120   80\n" * 200_000,
        b"Time Sys Dia " * 150 + b"\n" + b"x " * 900_000,
    ],
    ids=["deep", "deep lists", "wide", "many lists", "many names", "many rows", "long text", "long line"],
)
def test_a_hostile_file_costs_little_time(content: bytes) -> None:
    began = process_time()
    propose(content, WORDS, NOW)
    assert process_time() - began < 15  # seconds of the processor
