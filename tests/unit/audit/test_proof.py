"""Every kind of tampering is found; purging and torn lines are not tampering."""

import tracemalloc
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gateway.audit import GENESIS, Entry, Fault, TornLine, commitment, entry, link_hash, sign, verify
from tests.unit.audit.chains import KEY, START, a_chain, an_event

PUBLIC = KEY.public_key()
CHAIN = a_chain(12)


def a_head(link: Entry):
    return sign(link.seq, link.hash, START, KEY)


HEADS = [a_head(CHAIN[3]), a_head(CHAIN[11])]


def faults(links, heads=HEADS, **more):
    return {broken.fault for broken in verify(links, heads, PUBLIC, **more).faults}


def forge_from(links: list[Entry], start: int, first: Entry) -> list[Entry]:
    """Write the chain anew from one link on, as somebody with full access to the store could."""
    forged, previous = links[: start - 1], first.previous
    for link in [first, *links[start:]]:
        link = replace(link, previous=previous)
        forged.append(replace(link, hash=link_hash(link)))
        previous = forged[-1].hash
    return forged


def test_an_untouched_log_is_whole_and_proven_to_its_end():
    found = verify(CHAIN, HEADS, PUBLIC)
    assert found.whole and found.tail_proven
    assert (found.entries, found.last, found.last_hash, found.proven_to) == (12, 12, CHAIN[11].hash, 12)


def test_an_empty_log_is_whole():
    assert verify([], [], PUBLIC).whole


def test_without_the_outside_file_the_end_is_unproven_and_that_is_said():
    found = verify(CHAIN, None, PUBLIC, inside=HEADS)
    assert found.whole and not found.tail_proven
    assert "unproven" in found.sentence


def test_entries_after_the_last_outside_head_are_unproven():
    found = verify(CHAIN, HEADS[:1], PUBLIC)
    assert found.whole and not found.tail_proven and found.proven_to == 4
    assert "last 8 are unproven" in found.sentence


@pytest.mark.parametrize("index", [0, 5, 11])
@pytest.mark.parametrize(
    "change",
    [{"at": "2020-01-01T00:00:00.000000Z"}, {"kind": "delivered"}, {"actor": "nobody"}, {"recording": None},
     {"recording": "another"}, {"commitment": "0" * 64}, {"hash": "0" * 64}, {"previous": "1" * 64}],
)  # fmt: skip
def test_a_changed_entry_is_found(index, change):
    links = list(CHAIN)
    links[index] = replace(links[index], **change)
    assert Fault.CHANGED in faults(links)


@pytest.mark.parametrize(
    "change", [{"detail": b'{"bytes":9}'}, {"salt": b"x" * 32}, {"salt": None}, {"detail": None}, {"detail": "text"}]
)
def test_a_changed_detail_is_found(change):
    links = list(CHAIN)
    links[4] = replace(links[4], **change)
    assert faults(links) == {Fault.DETAIL_CHANGED}


def test_a_purged_detail_leaves_the_chain_whole():
    links = [replace(link, salt=None, detail=None) if link.seq % 2 else link for link in CHAIN]
    found = verify(links, HEADS, PUBLIC)
    assert found.whole and found.tail_proven and found.purged == 6


@pytest.mark.parametrize("index", [0, 1, 6, 10])
def test_a_removed_entry_is_found(index):
    assert Fault.REMOVED in faults(CHAIN[:index] + CHAIN[index + 1 :])


def test_a_removed_entry_whose_number_was_closed_up_is_found():
    links = CHAIN[:5] + [replace(link, seq=link.seq - 1) for link in CHAIN[6:]]
    assert Fault.CHANGED in faults(links)


@pytest.mark.parametrize("index", [0, 4, 10])
def test_reordered_entries_are_found(index):
    links = list(CHAIN)
    links[index], links[index + 1] = links[index + 1], links[index]
    assert Fault.REORDERED in faults(links)


def test_exchanged_contents_are_found():
    links = list(CHAIN)
    links[4], links[5] = replace(links[5], seq=5), replace(links[4], seq=6)
    assert Fault.CHANGED in faults(links)


def test_an_entry_twice_is_found():
    assert Fault.REORDERED in faults([*CHAIN[:6], *CHAIN[5:]])


@pytest.mark.parametrize("kept", [0, 4, 11])
def test_a_cut_off_end_is_found_by_the_outside_head_and_by_nothing_else(kept):
    assert Fault.CUT_OFF in faults(CHAIN[:kept])
    alone = verify(CHAIN[:kept], None, PUBLIC)
    assert alone.whole and not alone.tail_proven


@pytest.mark.parametrize("heads", [{"heads": HEADS}, {"heads": None, "inside": HEADS}])
def test_a_log_written_anew_is_found_by_heads_outside_or_inside(heads):
    salt, detail = b"f" * 32, b"{}"
    first = replace(CHAIN[5], salt=salt, detail=detail, commitment=commitment(salt, detail))
    links = forge_from(CHAIN, 6, first)
    assert verify(links, None, PUBLIC).whole, "a bare chain cannot tell"
    assert faults(links, **heads) == {Fault.REWRITTEN}


def test_an_entry_put_in_is_found():
    extra = entry(CHAIN[4].hash, 6, an_event(99), b"e" * 32)
    links = [*CHAIN[:5], extra, *(replace(link, seq=link.seq + 1) for link in CHAIN[5:])]
    assert Fault.CHANGED in faults(links)


def test_a_forged_head_and_heads_out_of_place_are_found():
    forged = replace(HEADS[1], hash="0" * 64)
    assert faults(CHAIN, [HEADS[0], forged]) == {Fault.HEAD_FORGED}
    assert faults(CHAIN, HEADS[::-1]) == {Fault.HEAD_ORDER}
    assert faults(CHAIN, [HEADS[0], HEADS[0], HEADS[1]]) == set(), "the same head twice is no fault"


def test_a_torn_line_is_counted_and_no_fault():
    found = verify(CHAIN, [HEADS[0], TornLine(2), HEADS[1]], PUBLIC)
    assert found.whole and found.torn == 1 and found.tail_proven


def test_types_that_a_database_may_return_after_tampering_do_not_stop_the_proof():
    for change in ({"seq": 2**60}, {"actor": 5.5}, {"recording": b"bytes"}, {"hash": None}):
        links = list(CHAIN)
        links[11] = replace(links[11], **change)
        assert not verify(links, None, PUBLIC).whole


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_any_edit_of_the_list_is_found(data):
    """Neighbours of the cases above: cut, double, move or exchange any entries."""
    links = list(CHAIN)
    here, there = (data.draw(st.integers(0, 11)) for _ in range(2))
    match data.draw(st.sampled_from(["remove", "double", "move", "swap", "cut"])):
        case "remove":
            del links[here]
        case "double":
            links.insert(there, links[here])
        case "move":
            links.insert(there, links.pop(here))
        case "swap":
            links[here], links[there] = links[there], links[here]
        case "cut":
            links = links[:here]
    assert verify(links, HEADS, PUBLIC).whole == (links == CHAIN)


def test_a_long_log_is_proved_in_little_memory():
    def long_chain() -> Iterator[Entry]:
        previous = GENESIS
        for number in range(1, 3_001):
            link = entry(previous, number, an_event(number), b"s" * 32)
            previous = link.hash
            yield replace(link, actor="changed")

    tracemalloc.start()
    found = verify(long_chain(), iter(()), PUBLIC)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert found.fault_count >= 3_000 and len(found.faults) == 50
    assert peak < 400_000
