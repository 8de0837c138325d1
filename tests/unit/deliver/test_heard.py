"""Whatever a server says is read without a stumble, and only what is really there is taken from it."""

import unicodedata
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as some

from gateway.fhir.copies import differences
from gateway.fhir.heard import bundle_answer, outcome_text, searchset, version_of, written_to
from gateway.fhir.masking import mask
from gateway.fhir.patients import candidate

KEYS = some.sampled_from(
    [
        "resourceType", "type", "entry", "response", "resource", "search", "mode", "status", "location", "etag",
        "issue", "expression", "diagnostics", "details", "text", "link", "relation", "url", "identifier", "period",
        "name", "given", "other", "reference", "active", "birthDate", "deceasedDateTime", "id", "meta", "versionId",
    ]
)  # fmt: skip
WORDS = some.sampled_from(
    ["Bundle", "searchset", "transaction-response", "OperationOutcome", "Patient", "match", "next", "200", "é" * 3]
)
ANYTHING = some.recursive(
    some.none() | some.booleans() | some.integers() | WORDS | some.text(max_size=5),
    lambda inner: some.lists(inner, max_size=4) | some.dictionaries(KEYS, inner, max_size=6),
    max_leaves=25,
)


@given(ANYTHING, some.sampled_from(["Bundle", "OperationOutcome", "Patient", None]))
def test_no_shape_makes_a_reader_stumble(body: Any, kind: str | None) -> None:
    if isinstance(body, dict) and kind:
        body = {**body, "resourceType": kind}
    searchset(body)
    bundle_answer(body)
    outcome_text(body, ("x",))
    written_to({"location": "x", "etag": "y"}, body, 201)
    if isinstance(body, dict):
        candidate(body)
        version_of(body)
        assert differences(body, body) == ()
        differences(body, {})


# the shapes of a transaction-response are those of the R4 example "bundle-response"
@pytest.mark.parametrize(
    ("response", "server_id", "version"),
    [
        ({"status": "201 Created", "location": "Patient/12423/_history/1", "etag": 'W/"1"'}, "12423", "1"),
        ({"status": "200 OK", "location": "https://x.example/fhir/Device/a-b.c", "etag": 'W/"7"'}, "a-b.c", "7"),
        ({"status": "201", "location": "Observation/9/_history/3"}, "9", "3"),
        ({"status": "200 OK"}, None, None),
        ({"status": "200 OK", "location": "?"}, None, None),
    ],
)
def test_where_and_in_which_version_an_entry_was_stored(
    response: dict[str, str], server_id: str | None, version: str | None
) -> None:
    answer = bundle_answer(
        {"resourceType": "Bundle", "type": "transaction-response", "entry": [{"response": response}]}
    )
    assert answer is not None
    assert answer.atomic
    assert (answer.entries[0].server_id, answer.entries[0].version) == (server_id, version)
    assert answer.entries[0].status in (200, 201)


def test_an_entry_without_a_status_has_none() -> None:
    answer = bundle_answer({"resourceType": "Bundle", "type": "batch-response", "entry": [{}]})
    assert answer is not None
    assert not answer.atomic
    assert answer.entries[0].status is None


def test_a_warning_in_a_search_means_that_something_was_ignored() -> None:
    warning = {"resource": {"resourceType": "OperationOutcome", "issue": [{"severity": "warning"}]}}
    found = searchset({"resourceType": "Bundle", "type": "searchset", "entry": [warning]})
    assert found is not None
    assert found.ignored
    assert found.matches == ()


def test_included_resources_are_no_matches() -> None:
    entry = {"resource": {"resourceType": "Patient", "id": "1"}, "search": {"mode": "include"}}
    found = searchset({"resourceType": "Bundle", "type": "searchset", "entry": [entry]})
    assert found is not None
    assert found.matches == ()


SENT = {
    "resourceType": "Observation",
    "status": "final",
    "subject": {"reference": "Patient/1"},
    "effectiveDateTime": "2026-03-03T09:00:00+01:00",
    "valueQuantity": {"value": Decimal("131.0"), "unit": "mmHg"},
    "component": [{"valueInteger": 3}, {"valueInteger": 4}],
    "derivedFrom": [{"reference": "urn:uuid:not-known-yet"}],
}


@pytest.mark.parametrize(
    "added",
    [
        {"meta": {"versionId": "1"}, "text": {"status": "generated"}, "id": "9"},
        {"valueQuantity": {"value": Decimal(131), "unit": "mmHg"}},
        {"subject": {"reference": "https://x.example/fhir/Patient/1", "display": "somebody"}},
        {"derivedFrom": [{"reference": "Observation/77"}]},
        {"effectiveDateTime": "2026-03-03T08:00:00.000Z"},
    ],
    ids=["its own", "trailing zero", "absolute link", "its own id", "the same instant"],
)
def test_what_means_the_same_is_no_difference(added: dict[str, Any]) -> None:
    assert differences(SENT, SENT | added) == ()


@pytest.mark.parametrize(
    ("changed", "place"),
    [
        ({"status": "preliminary"}, "Observation.status"),
        ({"status": "x/final"}, "Observation.status"),
        ({"effectiveDateTime": "2026-03-03T09:00:00Z"}, "Observation.effectiveDateTime"),
        ({"effectiveDateTime": "2026-03-03T09:00:00"}, "Observation.effectiveDateTime"),
        ({"subject": {"reference": "Patient/11"}}, "Observation.subject.reference"),
        ({"subject": {"reference": "Patient/21"}}, "Observation.subject.reference"),
        ({"valueQuantity": {"value": Decimal("131.1"), "unit": "mmHg"}}, "Observation.valueQuantity.value"),
        ({"valueQuantity": {"value": "131.0", "unit": "mmHg"}}, "Observation.valueQuantity.value"),
        ({"component": [{"valueInteger": 4}, {"valueInteger": 3}]}, "Observation.component[0].valueInteger"),
        ({"component": [{"valueInteger": 3}]}, "Observation.component"),
        ({"component": None}, "Observation.component"),
    ],
)
def test_what_means_something_else_is_named_by_its_place(changed: dict[str, Any], place: str) -> None:
    assert differences(SENT, SENT | changed)[0] == place


def said_about_a_person(words: str, *masked: str) -> str:
    return outcome_text({"resourceType": "OperationOutcome", "issue": [{"diagnostics": words}]}, masked)


# the test number is one of the range that the NHS publishes for tests; in print it stands in groups of 3, 3 and 4
@pytest.mark.parametrize(
    ("words", "masked", "left"),
    [
        ("Patient Anna EXAMPLE is closed", ("Example", "Anna Maria"), "Patient [person] [person] is closed"),
        ("maria, not ANNA", ("Anna Maria",), "[person], not [person]"),
        ("ask Anna-Maria", ("Anna Maria",), "ask [person]"),
        ("Mrs. Neil and Mrs. Smythe", ("O\u2019Neil-Smythe",), "Mrs. [person] and Mrs. [person]"),
        ("number (999 000 0018)", ("9990000018",), "number ([person])"),
        ("number 999-000-0018 or 9990000018", ("9990000018",), "number [person] or [person]"),
        ("number 9990000018", ("999 000 0018",), "number [person]"),
        ("EXAMPLE_ANNA@record", ("Example", "Anna"), "[person]_[person]@record"),
        ("Al is invalid", ("Al",), "[person] is invalid"),
        ("J. is an object", ("J",), "[person]. is an object"),
        ("Jose\u0301 Mu\u0308ller", ("Jos\u00e9", "M\u00fcller"), "[person] [person]"),
        ("JOSE MULLER, MUELLER", ("Jos\u00e9", "M\u00fcller"), "[person] [person], [person]"),
        ("Jos\u00e9 M\u00fcller", ("Jose\u0301", "Muller"), "[person] [person]"),
        ("Jos? M\ufffdller, Mller", ("Jos\u00e9", "M\u00fcller"), "[person] [person], [person]"),
        ("Sorensen, Soerensen", ("S\u00f8rensen",), "[person], [person]"),
        ("S\u00f8rensen and STRA\u00dfE", ("Sorensen", "Strasse"), "[person] and [person]"),
        ("999.000.0018 or 999/000 0018", ("9990000018",), "[person] or [person]"),
        ("born 1961.04.09 or 1961/04/09", ("1961-04-09",), "born [person] or [person]"),
        ("an \u00e9tude of 12 \u00bd", ("Example",), "an \u00e9tude of 12 \u00bd"),
    ],
)
def test_every_word_of_a_name_and_every_way_of_writing_a_number_is_masked(
    words: str, masked: tuple[str, ...], left: str
) -> None:
    assert said_about_a_person(words, *masked) == left


@given(some.text(max_size=40), some.lists(some.text(max_size=8), max_size=3))
def test_masking_never_stumbles_and_is_done_at_once(text: str, words: list[str]) -> None:
    assert mask(mask(text, words), ["no such word"]) == mask(text, words)


LATIN = some.characters(categories=["Lu", "Ll"], max_codepoint=0x24F)


@given(some.text(LATIN, min_size=4, max_size=12), some.sampled_from(["NFC", "NFD", "NFKC", "NFKD"]))
def test_a_name_is_found_in_every_normal_form(name: str, form: Any) -> None:
    """The four normal forms of Unicode (UAX 15)."""
    assert mask(f"<{unicodedata.normalize(form, name)}>", [name]) == "<[person]>"


def test_a_word_is_masked_before_a_long_answer_is_cut() -> None:
    assert "9990" not in said_about_a_person("x" * 495 + " 9990000018", "9990000018")
