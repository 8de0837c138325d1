"""Heads can be checked by anybody who has the public key, and read back from any damaged file."""

import json
from base64 import b64decode
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateway.audit import TornLine, fingerprint, genuine, parse_heads, sign
from tests.unit.audit.chains import KEY, START

HEAD = sign(12, "ab" * 32, START, KEY)


def test_line_is_plain_json_whose_signature_stands_over_the_rest():
    told = json.loads(HEAD.line)
    signature = b64decode(told.pop("signature"))
    rest = json.dumps(told, sort_keys=True, separators=(",", ":")).encode("ascii")
    KEY.public_key().verify(signature, rest)
    assert told["seq"] == 12
    assert "\n" not in HEAD.line


def test_fingerprint_is_of_the_public_key_of_rfc_8032_test_1():
    public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"  # RFC 8032 section 7.1, test 1
    assert KEY.public_key().public_bytes_raw().hex() == public
    assert fingerprint(KEY.public_key()) == HEAD.key


@pytest.mark.parametrize(
    "change",
    [{"seq": 13}, {"hash": "cd" * 32}, {"at": "2027-01-01T00:00:00.000000Z"}, {"key": "0" * 16}, {"signature": b""}],
)
def test_a_changed_head_is_not_genuine(change):
    assert genuine(HEAD, KEY.public_key())
    assert not genuine(replace(HEAD, **change), KEY.public_key())


def test_lines_are_read_back_and_a_torn_one_is_told():
    lines = [HEAD.line + "\n", "\n", HEAD.line[:40], HEAD.line]
    assert list(parse_heads(lines)) == [HEAD, TornLine(3), HEAD]


@pytest.mark.parametrize(
    "line",
    ["[]", "7", "null", '"text"', "{}", "[" * 1900, HEAD.line.replace('"seq":12', '"seq":true'), "9" * 1999,
     HEAD.line.replace('"seq":12', '"seq":12.0'), HEAD.line.replace('"seq":12', '"seq":-1'), HEAD.line + " " * 3000],
)  # fmt: skip
def test_what_is_no_head_is_torn(line):
    assert list(parse_heads([line])) == [TornLine(1)]


@given(st.text(max_size=300))
def test_no_line_stops_the_reader(line):
    assert all(isinstance(found, TornLine) for found in parse_heads([line]))
