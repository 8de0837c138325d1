"""A link covers what it must, in a form that anybody can compute again."""

import hashlib
import json
from datetime import datetime, timedelta, timezone

import pytest

from gateway.audit import GENESIS, entry, link_hash
from tests.unit.audit.chains import an_event

SALT = b"s" * 32


def canonical(value: object) -> bytes:
    # RFC 8785 section 3.2 for ASCII texts, whole numbers and booleans: sorted names, no spaces
    return json.dumps(value, sort_keys=True, separators=(",", ":")).encode("ascii")


def test_commitment_and_hash_can_be_computed_without_our_code():
    event = an_event(7)
    link = entry("ab" * 32, 7, event, SALT)
    assert link.detail == canonical(dict(event.detail))
    assert link.commitment == hashlib.sha256(SALT + canonical(dict(event.detail))).hexdigest()
    covered = {
        "version": 1,
        "seq": 7,
        "at": "2026-03-05T12:00:07.000000Z",
        "kind": "received",
        "actor": "service",
        "recording": "recording-7",
        "commitment": link.commitment,
        "previous": "ab" * 32,
    }
    assert link.hash == hashlib.sha256(canonical(covered)).hexdigest()


def test_canonical_order_and_numbers_follow_rfc_8785():
    # names sort by UTF-16 code units, so the euro sign stands after plain letters (RFC 8785 section 3.2.3)
    link = entry(GENESIS, 1, an_event(detail={"\u20ac": 1, "b": "\u00f6", "a": [True, None]}), SALT)
    assert link.detail == '{"a":[true,null],"b":"\u00f6","\u20ac":1}'.encode()


def test_time_is_told_in_utc():
    at = datetime(2026, 7, 1, 9, 30, tzinfo=timezone(timedelta(hours=2)))
    assert entry(GENESIS, 1, an_event(at=at), SALT).at == "2026-07-01T07:30:00.000000Z"


def test_hash_does_not_cover_what_may_be_purged():
    link = entry(GENESIS, 1, an_event(), SALT)
    other = entry(GENESIS, 1, an_event(), b"t" * 32)
    assert link.commitment != other.commitment, "the salt must change the commitment"
    assert link_hash(link) == link.hash


@pytest.mark.parametrize(
    ("event", "salt"),
    [
        (an_event(at=datetime(2026, 3, 5)), SALT),  # noqa: DTZ001  (the naive time is the case)
        (an_event(), b"short"),
        (an_event(detail={"when": datetime(2026, 3, 5)}), SALT),  # noqa: DTZ001
        (an_event(detail={"count": 2**60}), SALT),
    ],
)
def test_what_cannot_be_proved_later_is_refused(event, salt):
    with pytest.raises(ValueError):
        entry(GENESIS, 1, event, salt)
