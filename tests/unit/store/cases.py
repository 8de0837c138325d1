"""Building blocks for the store's tests."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from gateway.audit import verify
from gateway.model import Act, EventKind, Filed, Hold, HoldReason, Rejected
from gateway.store import DeliveryClaim, HeldIntake, IntakeClaim, NewDelivery, ReadyIntake, Store
from tests.databases import Place, in_folder

NOW = datetime(2026, 3, 5, 12, 0, tzinfo=UTC)
LEASE = timedelta(minutes=5)
OVER = timedelta(0)
"""A lease that has ended by the database's clock as soon as it is given."""
KEY = Ed25519PrivateKey.from_private_bytes(b"k" * 32)


@contextmanager
def a_store(place: Place | Path) -> Iterator[Store]:
    """A store at this place, or in this folder; when the test is done its audit trail must be whole."""
    with Store.open((place if isinstance(place, Place) else in_folder(place)).address) as store:
        yield store
        assert verify(store.audit_entries(), None, KEY.public_key()).whole


def ready(person: str = "person-1", *destinations: str, **changes: object) -> ReadyIntake:
    values = {
        "key": "key-1",
        "person_key": person,
        "serial": "EX-0001",
        "began": NOW - timedelta(days=1),
        "ended": NOW,
        "instants": (1772528400, 1772530200),
        "facts": b'{"hold":null}',
        "events": ((EventKind.READ, {"map": "plain"}),),
        "deliveries": tuple(
            NewDelivery(destination=name, act=Act.FILE, content=f"{person} {name}".encode())
            for name in destinations or ("record",)
        ),
    }
    return ReadyIntake(**{**values, **changes})  # type: ignore[arg-type]


def held(reason: HoldReason = HoldReason.TIME_IN_FUTURE, rule: str = "time-in-future") -> HeldIntake:
    return HeldIntake(hold=Hold(reason=reason, rule=rule, detail="row 3"), facts=b"{}", events=())


def rejected(rule: str = "person-inactive") -> Rejected:
    return Rejected(hold=Hold(reason=HoldReason.PERSON_INACTIVE, rule=rule), answer="error: not active")


def taken_in(store: Store, content: bytes = b"export", name: str = "export.csv") -> IntakeClaim:
    store.receive(content, name, NOW, "service")
    claim = store.claim_received("worker", LEASE, NOW)
    assert claim is not None
    return claim


def made_ready(store: Store, content: bytes = b"export", outcome: ReadyIntake | None = None) -> str:
    claim = taken_in(store, content)
    assert store.finish_intake(claim, outcome or ready(), NOW, "service")
    return claim.recording_id


def sending(store: Store, *destinations: str, lease: timedelta = LEASE, now: datetime = NOW) -> DeliveryClaim:
    claim = store.claim_delivery("worker", lease, now, destinations or ("record",))
    assert claim is not None
    return claim


def a_resource(number: int = 1, **changes: object) -> Filed:
    values = {
        "resource_id": f"resource-{number}",
        "resource_type": "Observation",
        "server_id": f"server-{number}",
        "version": "1",
        "content_hash": "0" * 64,
        "status": "final",
    }
    return Filed(**{**values, **changes})  # type: ignore[arg-type]


def kinds(store: Store) -> list[str]:
    return [entry.kind for entry in store.audit_entries()]
