"""The audit trail as it lies in the database, tampered with by somebody who has full access to it."""

from datetime import timedelta

import pytest

from gateway.audit import Fault, TornLine, verify
from gateway.errors import StoreError
from gateway.model import Delivered, Event, EventKind
from gateway.store import Store, outside_heads
from gateway.store.trail import append
from tests.databases import in_folder
from tests.unit.store.cases import KEY, NOW, a_store, made_ready, sending


def proof(store, outside=None):
    heads = None if outside is None else outside_heads(outside)
    inside = store.heads()
    return verify(store.audit_entries(), heads, KEY.public_key(), inside)


@pytest.fixture
def outside(place, tmp_path):
    """Outside heads over the whole log of a store with a delivered recording."""
    with a_store(place) as store:
        made_ready(store)
        store.answer(sending(store), Delivered(patient="7", count=3), None, NOW, "worker")
        store.anchor(tmp_path / "heads", KEY, NOW)
        assert proof(store, tmp_path / "heads").tail_proven
    return tmp_path / "heads"


@pytest.mark.parametrize(
    ("sql", "fault"),
    [
        ("UPDATE audit SET actor = 'nobody' WHERE seq = 2", Fault.CHANGED),
        ("UPDATE audit SET at = '2020-01-01T00:00:00.000000Z' WHERE seq = 5", Fault.CHANGED),
        ("UPDATE audit SET recording = NULL WHERE seq = 3", Fault.CHANGED),
        ("UPDATE audit SET detail = '{}' WHERE seq = 3", Fault.DETAIL_CHANGED),
        ("UPDATE audit SET salt = zeroblob(32) WHERE seq = 1", Fault.DETAIL_CHANGED),
        ("UPDATE audit SET detail = NULL WHERE seq = 4", Fault.DETAIL_CHANGED),
        ("DELETE FROM audit WHERE seq = 3", Fault.REMOVED),
        ("DELETE FROM audit WHERE seq = 1", Fault.REMOVED),
        ("DELETE FROM audit WHERE seq >= 4", Fault.CUT_OFF),
        ("DELETE FROM audit", Fault.CUT_OFF),
        ("UPDATE audit SET seq = CASE seq WHEN 2 THEN -3 ELSE -2 END WHERE seq IN (2, 3);"
         "UPDATE audit SET seq = -seq WHERE seq < 0", Fault.CHANGED),
        ("UPDATE heads SET line = replace(line, '\"seq\":5', '\"seq\":4')", Fault.HEAD_FORGED),
    ],
)  # fmt: skip
def test_tampering_in_the_database_is_found(place, outside, sql, fault):
    place.execute(sql.replace("zeroblob(32)", "decode(repeat('00', 32), 'hex')") if place.on_server else sql)
    with Store.open(place.address) as store:
        found = proof(store, outside)
    assert fault in {broken.fault for broken in found.faults}


def test_a_value_that_is_no_text_is_found(tmp_path):
    """Only SQLite keeps what does not fit its column."""
    place = in_folder(tmp_path)
    with a_store(place) as store:
        made_ready(store)
    place.execute("UPDATE audit SET kind = x'00ff' WHERE seq = 3")
    with Store.open(place.address) as store:
        assert Fault.CHANGED in {broken.fault for broken in proof(store).faults}


def test_purged_details_leave_the_log_whole(place, outside):
    place.execute("UPDATE audit SET salt = NULL, detail = NULL WHERE seq <> 2")
    with Store.open(place.address) as store:
        found = proof(store, outside)
        assert found.whole and found.tail_proven and found.purged == 4
        assert store.story(next(iter(store.audit_entries())).recording).events[0].detail == {}


def test_cutting_log_and_inner_heads_alike_shows_only_outside(place, outside):
    place.execute("DELETE FROM audit WHERE seq > 3; DELETE FROM heads")
    with Store.open(place.address) as store:
        assert proof(store).whole and not proof(store).tail_proven
        assert Fault.CUT_OFF in {broken.fault for broken in proof(store, outside).faults}


def test_going_on_after_a_cut_is_found(place, outside):
    place.execute(
        "DELETE FROM audit WHERE seq > 3;UPDATE audit_head SET seq = 3, hash = (SELECT hash FROM audit WHERE seq = 3)"
    )
    with Store.open(place.address) as store:
        for number in range(9):
            store.receive(bytes([number]), "x", NOW, "service")
        assert Fault.REWRITTEN in {broken.fault for broken in proof(store, outside).faults}


def test_a_long_log_is_read_whole_and_in_order(place):
    with a_store(place) as store:
        with store._database.writing() as connection:
            append(connection, (_event(number) for number in range(1203)))
        assert [entry.seq for entry in store.audit_entries()] == list(range(1, 1204))
        assert store.head()[0] == 1203


def _event(number):
    return Event(kind=EventKind.SETTINGS, at=NOW, actor="service", detail={"number": number})


def test_heads_are_kept_in_both_places_and_only_when_the_log_grew(place, tmp_path):
    outside = tmp_path / "elsewhere" / "heads"
    with a_store(place) as store:
        assert store.anchor(outside, KEY, NOW) is None, "an empty log has no head"
        for number in range(1, 4):
            store.record(_event(number))
            assert store.anchor(outside, KEY, NOW + timedelta(seconds=number)).seq == number
            assert store.anchor(outside, KEY, NOW) is None
        assert [head.seq for head in outside_heads(outside)] == [1, 2, 3]
        assert list(store.heads()) == list(outside_heads(outside))
        assert outside.stat().st_mode & 0o777 == 0o600


def test_a_line_torn_by_a_power_cut_is_closed_and_not_glued_to(place, tmp_path):
    outside = tmp_path / "heads"
    with a_store(place) as store:
        store.record(_event(1))
        store.anchor(outside, KEY, NOW)
        outside.write_bytes(outside.read_bytes()[:-20])
        head = store.anchor(outside, KEY, NOW)
        assert list(outside_heads(outside)) == [TornLine(1), head]
        found = proof(store, outside)
        assert found.whole and found.tail_proven and found.torn == 1


def test_a_proof_beside_a_running_service_raises_no_false_alarm(place, tmp_path):
    outside = tmp_path / "heads"
    with a_store(place) as store:
        for number in range(3):
            store.record(_event(number))
        store.anchor(outside, KEY, NOW)
        heads, inside, entries = outside_heads(outside), store.heads(), store.audit_entries()
        next(heads), next(entries)
        store.record(_event(9))
        store.anchor(outside, KEY, NOW)
        assert list(heads) == [] and len(list(inside)) == 1


def test_a_heads_file_that_cannot_be_used_is_told(place, tmp_path):
    with a_store(place) as store:
        store.record(_event(1))
        with pytest.raises(StoreError, match="cannot be written"):
            store.anchor(tmp_path, KEY, NOW)
    with pytest.raises(StoreError, match="cannot be read"):
        outside_heads(tmp_path / "none")
