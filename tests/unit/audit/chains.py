"""Chains and heads for the audit tests."""

from datetime import UTC, datetime, timedelta

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from gateway.audit import GENESIS, Entry, entry
from gateway.model import Event, EventKind

START = datetime(2026, 3, 5, 12, 0, tzinfo=UTC)
# the secret key of RFC 8032, section 7.1, test 1
KEY = Ed25519PrivateKey.from_private_bytes(
    bytes.fromhex("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60")
)


def an_event(number: int = 1, **changes: object) -> Event:
    values = {
        "kind": EventKind.RECEIVED,
        "at": START + timedelta(seconds=number),
        "actor": "service",
        "recording": f"recording-{number}",
        "detail": {"bytes": number, "again": False, "destinations": ["record"]},
    }
    return Event(**{**values, **changes})  # type: ignore[arg-type]


def a_chain(length: int) -> list[Entry]:
    links: list[Entry] = []
    for number in range(1, length + 1):
        previous = links[-1].hash if links else GENESIS
        links.append(entry(previous, number, an_event(number), bytes([number % 256]) * 32))
    return links
