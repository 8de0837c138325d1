"""Small values survive their columns."""

import hashlib
import hmac
from datetime import UTC, datetime, timedelta, timezone
from uuid import RFC_4122, UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy.dialects import sqlite

from gateway.model import Hold, HoldReason
from gateway.store.rows import hold_from, hold_text, instants_from, instants_text, keyed_hash, opaque_id
from gateway.store.tables import Instant


def test_opaque_ids_are_uuids_of_version_8():
    # RFC 9562 section 5.8: version 8, variant 10, the rest is ours
    made = UUID(opaque_id(b"k" * 32, "recording", "abc"))
    assert (made.version, made.variant) == (8, RFC_4122)
    mac = hmac.new(b"k" * 32, b"recording\0abc", hashlib.sha256).digest()
    assert made.bytes[:6] == mac[:6] and made.bytes[9:] == mac[9:16]


def test_opaque_ids_depend_on_key_and_on_every_part():
    ids = {opaque_id(key, *parts) for key in (b"a" * 32, b"b" * 32) for parts in (("x", "yz"), ("xy", "z"), ("xyz",))}
    assert len(ids) == 6
    assert keyed_hash(b"a" * 32, "x") != keyed_hash(b"b" * 32, "x")


def test_a_hold_survives():
    hold = Hold(reason=HoldReason.NO_MAP, detail="3 maps tried", rule="x", findings=("one", "two"))
    assert hold_from(hold_text(hold)) == hold
    assert hold_from(None) is None


@given(st.lists(st.integers(-(10**9), 10**11)).map(tuple))
def test_instants_survive(instants):
    assert instants_from(instants_text(instants)) == instants


@given(st.datetimes(timezones=st.sampled_from([UTC, timezone(timedelta(hours=5, minutes=45))])))
def test_times_survive_to_the_microsecond(moment):
    kind, dialect = Instant(), sqlite.dialect()
    stored = kind.process_bind_param(moment, dialect)
    assert kind.process_result_value(stored, dialect) == moment


def test_a_naive_time_is_refused():
    with pytest.raises(TypeError):
        Instant().process_bind_param(datetime(2026, 3, 5), sqlite.dialect())  # noqa: DTZ001
