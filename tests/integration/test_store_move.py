"""From SQLite to PostgreSQL: every row, compared; or nothing."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from gateway.audit import verify
from gateway.errors import StoreError
from gateway.model import Delivered, TryLater, Way
from gateway.settings.storage import StoreChoice
from gateway.store import NewExpected, Store
from gateway.store.move import move
from gateway.store.tables import metadata
from tests.databases import Place, in_folder
from tests.unit.store.cases import (
    KEY,
    LEASE,
    NOW,
    a_resource,
    a_store,
    held,
    kinds,
    made_ready,
    ready,
    sending,
    taken_in,
)

DONE = Delivered(patient="Patient/1", count=2)


@pytest.fixture
def old(tmp_path: Path) -> Place:
    """A store with something in every state: delivered, postponed, under way, held, received, decided."""
    place = in_folder(tmp_path)
    with a_store(place) as store:
        made_ready(store, b"\x00\xff binary", ready("person-1", "record", "research"))
        claim = sending(store)
        store.note_filed(claim, Way.PUT, [a_resource(1), a_resource(2)], NOW, "service", [b"a trace"])
        store.answer(claim, DONE, None, NOW, "service")
        claim = sending(store, "research")
        store.answer(claim, TryLater(why="the server is away – später"), NOW + timedelta(hours=1), NOW, "service")
        for number in range(2, 40):
            made_ready(store, f"file {number}".encode(), ready(f"person-{number}", key=f"key-{number}"))
        sending(store)
        claim = taken_in(store, b"doubtful", "Ünicode .csv")
        assert store.finish_intake(claim, held(), NOW, "service")
        store.release(claim.recording_id, "R. Marlow", "it is right", NOW)
        store.receive(b"just in", "b.csv", NOW, "service")
        monitor = NewExpected(serial="EX-1", person_key="key", person="9990000018", begins=NOW, ends=None)
        store.expect([monitor], "R. Marlow", NOW)
        store.set_health("inbox", NOW, {"unfinished": 1})
        store.beat("1" * 32, "one", "9.9", NOW)
        store.claim_file("mark", "one", LEASE)
        store.anchor(place_of_heads(place), KEY, NOW)
    return place


def place_of_heads(place: Place) -> Path:
    return Path(place.address).parent / "heads.jsonl"


def moved(old: Place, new: Place) -> dict[str, int]:
    return move(Path(old.address), StoreChoice(url=new.address), lambda table, count: None)


def everything(place: Place) -> dict[str, set[tuple[Any, ...]]]:
    """Asked without our own queries. SQLite keeps a truth value as a number."""
    found = {}
    for table in metadata.tables.values():
        names = ", ".join(f'"{column.name}"' for column in table.columns)
        rows = place.ask(f"SELECT {names} FROM {table.name}")
        found[table.name] = {tuple(int(v) if isinstance(v, bool) else v for v in row) for row in rows}
    return found


def test_every_row_of_every_table_arrives_unchanged(old, new):
    before = everything(old)
    counts = moved(old, new)
    assert everything(new) == before == everything(old)
    assert counts == {name: len(rows) for name, rows in before.items()}
    filled = set(counts) - {"marks", "withdrawals"}
    assert sum(counts.values()) > 200 and all(counts[name] for name in filled), counts


def test_the_moved_store_goes_on_where_the_old_one_stopped(old, new):
    with Store.open(old.address) as store:
        key, before, head = store.key, kinds(store), store.head()
    moved(old, new)
    with a_store(new) as store:
        assert store.key == key and kinds(store) == before and store.head() == head
        assert store.receive(b"just in", "c.csv", NOW, "service").again, "what was seen is known"
        again = store.receive(b"new", "d.csv", NOW, "service")
        assert not again.again
        claim = store.claim_received("two", LEASE, NOW)
        assert claim is not None
        while (delivery := store.claim_delivery("two", LEASE, NOW, ["record"])) is not None:
            store.answer(delivery, DONE, None, NOW, "two")
        assert verify(store.audit_entries(), store.heads(), KEY.public_key()).whole


def test_a_store_with_work_in_it_is_not_written_over(old, new):
    with Store.open(new.address) as store:
        store.receive(b"theirs", "a.csv", NOW, "service")
    before = everything(new)
    with pytest.raises(StoreError, match="holds a store with work in it already; nothing was moved"):
        moved(old, new)
    assert everything(new) == before


@pytest.mark.parametrize(
    ("table", "spoil"),
    [
        ("contents", "NEW.content := NEW.content || '\\x00'::bytea; RETURN NEW"),
        ("deliveries", "NEW.due := NEW.due + 1; RETURN NEW"),
        ("traces", "RETURN NULL"),
    ],
)
def test_a_row_that_comes_out_otherwise_is_seen_and_nothing_is_moved(old, new, table, spoil):
    Store.open(new.address).close()
    before = everything(new)
    new.execute(f"CREATE FUNCTION spoil() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {spoil}; END $$")
    new.execute(f"CREATE TRIGGER spoil BEFORE INSERT ON {table} FOR EACH ROW EXECUTE FUNCTION spoil()")
    with pytest.raises(StoreError, match=f"Row 1 of {table} did not come out as it went in"):
        moved(old, new)
    assert everything(new) == before
