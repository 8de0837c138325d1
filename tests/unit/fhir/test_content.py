"""Bytes are stable and exact: what is stored is what is sent."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gateway.fhir import Parcel, Rank, Resource, bundle, content_hash, pack, parsed, unpack, written
from gateway.model import Person
from tests.builders import a_person
from tests.unit.fhir.building import composed


def test_whole_numbers_stay_whole_and_decimals_keep_their_decimals():
    assert written({"b": Decimal("138.0"), "a": 120, "c": Decimal("0.22")}) == b'{"a":120,"b":138.0,"c":0.22}'


def test_a_very_small_or_large_decimal_has_no_exponent():
    assert written([Decimal("0.0000001"), Decimal("1E+3")]) == b"[0.0000001,1000]"


def test_text_is_utf_8_and_not_escaped():
    assert written({"family": "Exämple-Ōta"}) == '{"family":"Exämple-Ōta"}'.encode()


@pytest.mark.parametrize("number", [1.5, float("nan"), float("inf"), Decimal("NaN"), Decimal("Infinity")])
def test_a_number_without_an_exact_form_is_refused(number):
    with pytest.raises(TypeError):
        written({"deep": [{"value": number}]})


@pytest.mark.parametrize("word", ["NaN", "Infinity", "-Infinity"])
def test_json_that_is_none_is_refused(word):
    with pytest.raises(ValueError, match="is not JSON"):
        parsed(f'{{"value": {word}}}')


def test_the_order_of_keys_does_not_matter():
    one = Resource(Rank.READING, {"id": "x", "resourceType": "Observation", "status": "final"})
    two = Resource(Rank.READING, {"status": "final", "resourceType": "Observation", "id": "x"})
    assert content_hash(one) == content_hash(two)


@given(
    st.recursive(
        st.booleans() | st.integers(-(2**53), 2**53) | st.text() | st.decimals(-300, 300, places=1),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    )
)
@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
def test_what_is_written_is_read_back_the_same(body):
    again = written(body)
    assert parsed(again) == body
    assert written(parsed(again)) == again


def test_a_parcel_comes_back_whole_and_gives_the_same_bytes():
    parcel = Parcel(person=a_person(), ended=datetime(2026, 3, 4, 9, tzinfo=UTC), resources=composed())
    again = unpack(pack(parcel))
    assert again.person == parcel.person
    assert again.ended == parcel.ended
    assert [(item.rank, item.id, item.type) for item in again.resources] == [
        (item.rank, item.id, item.type) for item in parcel.resources
    ]
    assert pack(again) == pack(parcel)
    assert [content_hash(item) for item in again.resources] == [content_hash(item) for item in parcel.resources]


def test_a_parcel_of_somebody_with_little_known_comes_back():
    parcel = Parcel(person=Person(), ended=datetime(2026, 3, 4, 9, tzinfo=UTC), resources=())
    assert unpack(pack(parcel)) == parcel


def test_bytes_of_another_form_are_refused():
    with pytest.raises(ValueError, match="form"):
        unpack(b'{"form": 2}')


def test_the_preview_bundle_holds_every_resource_under_its_uuid():
    resources = composed()
    made = bundle(resources)
    assert [entry["fullUrl"] for entry in made["entry"]] == [f"urn:uuid:{item.id}" for item in resources]
    assert made["type"] == "transaction"
