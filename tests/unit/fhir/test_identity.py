"""Ids are stable, opaque and never shared by two things."""

import re
from datetime import UTC, datetime, timedelta, timezone
from uuid import UUID

import pytest

from gateway.fhir import Identity, person_key, recording_key
from gateway.model import Identifier
from tests.builders import NHS

KEY = b"k" * 32
PERSON = Identifier(NHS, "9990000018")
FIRST = datetime(2026, 3, 3, 9, tzinfo=UTC)


def key(**changes):
    parts = {"store_key": KEY, "person": PERSON, "serial": "EX-1", "first": FIRST, "issue": 1} | changes
    return recording_key(**parts)


def test_the_same_recording_always_has_the_same_key_whatever_the_offset():
    elsewhere = FIRST.astimezone(timezone(timedelta(hours=5)))
    assert key() == key(first=elsewhere)


@pytest.mark.parametrize(
    "changes",
    [
        {"store_key": b"o" * 32},
        {"person": Identifier(NHS, "9990000026")},
        {"person": Identifier("urn:oid:1.2", "9990000018")},
        {"serial": "EX-2"},
        {"serial": None},
        {"first": FIRST + timedelta(seconds=1)},
        {"issue": 2},
    ],
)
def test_another_recording_has_another_key(changes):
    assert key() != key(**changes)


def test_parts_cannot_be_shifted_into_each_other():
    assert person_key(KEY, Identifier("ab", "c")) != person_key(KEY, Identifier("a", "bc"))


def test_a_naive_instant_is_refused():
    with pytest.raises(ValueError, match="aware"):
        key(first=datetime(2026, 3, 3, 9))  # noqa: DTZ001


def test_ids_have_the_layout_of_a_uuid():
    identity = Identity(KEY, key())
    for made in (key(), identity.uuid("report"), identity.device("monitor", "EX-1"), person_key(KEY, PERSON)):
        assert UUID(made).version == 8  # RFC 9562, section 5.8: custom
        assert UUID(made).variant == "specified in RFC 4122"
        assert re.fullmatch(r"[0-9a-f-]{36}", made)


def test_a_device_is_the_same_in_every_recording():
    assert Identity(KEY, key()).device("monitor", "EX-1") == Identity(KEY, key(issue=2)).device("monitor", "EX-1")
    assert Identity(KEY, key()).uuid("report") != Identity(KEY, key(issue=2)).uuid("report")


def test_an_id_tells_nothing_of_the_person():
    assert "9990000018" not in key() + person_key(KEY, PERSON)
