"""The PDF that came with an export, on a real database: kept once, with what is not filed yet, and given to whoever
works on it.
"""

from hashlib import sha256

import pytest

from gateway.errors import LeaseLost
from gateway.model import Companion, CompanionFault
from gateway.store import Store
from tests.unit.store.cases import LEASE, NOW, held, made_ready, ready, taken_in

PDF = Companion(content=b"%PDF-1.4\n%%EOF", fault=None)
OTHER = Companion(content=b"%PDF-1.5\n%%EOF", fault=CompanionFault.ENCRYPTED)
GONE = Companion(content=None, fault=CompanionFault.TOO_LARGE)


def received(store: Store, content: bytes, companion: Companion | None) -> bool:
    return store.receive(content, "a.csv", NOW, "service", None, companion).enclosed


@pytest.mark.parametrize("companion", [PDF, OTHER, GONE, None])
def test_whoever_works_on_it_gets_it_as_it_came(store: Store, companion: Companion | None) -> None:
    assert received(store, b"export", companion) is (companion is not None)
    claim = store.claim_received("worker", LEASE, NOW)
    assert claim is not None and claim.content == b"export" and claim.companion == companion


def test_the_audit_trail_names_it_by_its_hash(store: Store) -> None:
    received(store, b"export", PDF)
    (entry,) = store.audit_entries()
    assert sha256(PDF.content or b"").hexdigest().encode() in (entry.detail or b"")


def test_two_exports_may_come_with_the_same_pdf(store: Store) -> None:
    assert received(store, b"one", PDF) and received(store, b"two", PDF)
    claims = [store.claim_received("worker", LEASE, NOW) for _ in range(2)]
    assert [claim and claim.companion for claim in claims] == [PDF, PDF]
    assert store.enclosed_in(PDF.sha256) == (claims[0] and claims[0].recording_id)
    assert store.enclosed_in(OTHER.sha256) is None


def test_it_may_be_a_file_that_was_taken_in_by_itself_before(store: Store) -> None:
    taken_in(store, PDF.content or b"", "a.pdf")
    assert received(store, b"export", PDF)


def test_what_is_filed_takes_none_and_a_second_one_takes_no_first_one_s_place(store: Store) -> None:
    made_ready(store, b"filed")
    assert not received(store, b"filed", PDF)
    assert received(store, b"export", PDF) and received(store, b"export", PDF)
    assert not received(store, b"export", OTHER)
    claim = store.claim_received("worker", LEASE, NOW)
    assert claim is not None and claim.companion == PDF


def test_one_that_comes_while_somebody_works_on_it_is_not_lost(store: Store) -> None:
    claim = taken_in(store)
    assert received(store, b"export", PDF)
    with pytest.raises(LeaseLost):
        store.finish_intake(claim, ready(), NOW, "worker")
    again = store.claim_received("worker", LEASE, NOW)
    assert again is not None and again.companion == PDF
    assert store.finish_intake(again, held(), NOW, "worker")
