"""Several gateways share a store: signs of life, files in hand, and what a dead one leaves behind."""

from datetime import timedelta

import pytest

from gateway.errors import LeaseLost, StoreError
from gateway.model import Delivered
from gateway.service.presence import Me, Presence, alone
from gateway.service.sharing import ID_FILE, Sharing
from gateway.store import Store
from gateway.store.nodes import SILENT
from gateway.watch import Inbox
from tests.unit.store.cases import LEASE, NOW, OVER, a_store, kinds, made_ready, ready, sending, taken_in

ONE, TWO = Me(id="1" * 32, name="one"), Me(id="2" * 32, name="two")
VERSION = "bp-gateway 9.9"


def beat(store: Store, who: Me, *, stopped: bool = False) -> None:
    store.beat(who.id, who.name, VERSION, NOW, stopped=stopped)


def test_a_node_is_alive_from_its_first_sign_until_it_stops_or_falls_silent(place):
    with a_store(place) as store:
        beat(store, ONE)
        beat(store, TWO)
        beat(store, ONE)
        assert [(node.name, node.alive) for node in store.nodes()] == [("one", True), ("two", True)]
        beat(store, ONE, stopped=True)
        place.execute(f"UPDATE nodes SET seen = seen - {SILENT.total_seconds() + 1} WHERE id = '{TWO.id}'")
        one, two = store.nodes()
        assert one.stopped and not one.alive and not two.stopped and not two.alive
        assert timedelta(seconds=60) < two.silent < timedelta(seconds=600)
        assert (one.software, one.began) == (VERSION, NOW)


def test_a_node_that_was_silent_for_a_fortnight_is_forgotten(place):
    with a_store(place) as store:
        beat(store, ONE)
        place.execute("UPDATE nodes SET seen = seen - 15 * 86400")
        beat(store, TWO)
        assert [node.name for node in store.nodes()] == ["two"]


def test_a_sqlite_store_with_another_living_gateway_is_refused_in_plain_words(place):
    with a_store(place) as store:
        beat(store, ONE)
        alone(store, ONE)
        with pytest.raises(StoreError, match=r"Another gateway, 'one', .* share a PostgreSQL database"):
            alone(store, TWO)
        beat(store, ONE, stopped=True)
        alone(store, TWO)


def test_presence_says_that_it_lives_and_that_it_left(place):
    with a_store(place) as store:
        presence = Presence(store, ONE, VERSION, NOW)
        presence.beat()
        assert store.nodes()[0].alive
        presence.leave()
        assert store.nodes()[0].stopped


def test_a_file_is_in_one_hand_until_it_is_done_or_the_lease_ends(place):
    with a_store(place) as store:
        assert store.claim_file("mark", "one", LEASE) and store.claim_file("mark", "one", LEASE)
        assert not store.claim_file("mark", "two", LEASE)
        store.file_done("mark", "two")
        assert not store.claim_file("mark", "two", LEASE), "only its holder lets go of it"
        store.file_done("mark", "one")
        assert store.claim_file("mark", "two", OVER)
        assert store.claim_file("mark", "one", LEASE), "a lease that ended is nobody's"


def test_a_restart_frees_the_files_that_its_forerunner_had_in_hand_and_no_others(place):
    with a_store(place) as store:
        assert store.claim_file("its own", f"{ONE.signature}9", LEASE)
        assert store.claim_file("another's", "another.77:9", LEASE)
        store.take_over(ONE.worker, NOW, of=ONE.signature)
        assert store.claim_file("its own", ONE.worker, LEASE)
        assert not store.claim_file("another's", ONE.worker, LEASE)


def test_the_end_of_a_lease_is_told_by_the_database_and_not_by_our_clock(place):
    with a_store(place) as store:
        made_ready(store)
        early = store.claim_delivery("one", LEASE, NOW + timedelta(days=4000), ["record"])
        assert early is not None
        late = NOW + timedelta(days=8000)
        assert store.claim_delivery("two", LEASE, late, ["record"]) is None, "a clock far ahead takes nothing away"


def test_what_a_dead_node_had_passes_on_and_the_dead_one_is_fenced_off_if_it_wakes(place):
    with a_store(place) as store:
        made_ready(store)
        first = sending(store)
        claim = taken_in(store, b"another")
        place.execute("UPDATE deliveries SET lease_until = 0; UPDATE recordings SET lease_until = 0")
        second = store.claim_delivery("two", LEASE, NOW, ["record"])
        assert second is not None and second.outcome_unknown and second.fence > first.fence
        other = store.claim_received("two", LEASE, NOW)
        assert other is not None and other.recording_id == claim.recording_id
        with pytest.raises(LeaseLost):
            store.answer(first, Delivered(patient="Patient/1", count=1), None, NOW, "one")
        with pytest.raises(LeaseLost):
            store.finish_intake(claim, ready("person-2", key="key-2"), NOW, "one")
        store.answer(second, Delivered(patient="Patient/1", count=1), None, NOW, "two")
        assert store.finish_intake(other, ready("person-2", key="key-2"), NOW, "two")
        assert kinds(store).count("recovered") == 2


def test_a_restarted_node_ends_its_own_leases_and_nobody_else_s(place):
    with a_store(place) as store:
        made_ready(store)
        made_ready(store, b"two", ready("person-2", key="key-2"))
        assert store.claim_delivery(f"{ONE.signature}7", LEASE, NOW, ["record"]) is not None
        assert store.claim_delivery(f"{TWO.signature}7", LEASE, NOW, ["record"]) is not None
        assert store.take_over(ONE.worker, NOW, of=ONE.signature) == 1
        again = store.claim_delivery(ONE.worker, LEASE, NOW, ["record"])
        assert again is not None and again.outcome_unknown
        assert store.claim_delivery(ONE.worker, LEASE, NOW, ["record"]) is None, "the other node's is the other's"


def test_the_order_of_a_person_is_kept_whichever_node_asks(place):
    with a_store(place) as store:
        made_ready(store)
        made_ready(store, b"two", ready(key="key-2"))
        made_ready(store, b"three", ready("person-2", key="key-3"))
        first, other = sending(store), sending(store)
        assert other.recording_id != first.recording_id
        assert store.claim_delivery("two", LEASE, NOW, ["record"]) is None, "the person's earlier one is under way"
        store.answer(first, Delivered(patient="Patient/1", count=1), None, NOW, "one")
        assert store.claim_delivery("two", LEASE, NOW, ["record"]) is not None


def test_two_nodes_that_see_one_folder_know_it_for_the_same_and_share_its_files(place, tmp_path):
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    with a_store(place) as store:
        one, two = Sharing(inbox, "one", store), Sharing(inbox, "two", store)
        assert one.inbox == two.inbox and (inbox / ID_FILE).exists()
        (inbox / "export.csv").write_bytes(b"export")
        watch = Inbox(inbox, quiet=0, sweep_every=60, use_events=False)
        with watch:
            found = ()
            for moment in range(1, 4):
                found = watch.settled(float(moment * 100))
                if found:
                    break
        (arrival,) = found
        assert arrival.path.name == "export.csv", "the folder's own mark is no export"
        assert one.mine(arrival) and not two.mine(arrival)
        one.let_go(arrival)
        assert two.mine(arrival)
