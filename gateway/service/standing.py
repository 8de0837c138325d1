"""How far a withdrawal got in each record: what is withdrawn, what still stands."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from gateway import fhir
from gateway.model import Act, DeliveryState
from gateway.store import Store, Story

OPEN = (DeliveryState.WAITING, DeliveryState.SENDING, DeliveryState.HELD)


@dataclass(frozen=True, slots=True, kw_only=True)
class Far:
    """One record. `withdrawn` counts by kind of entry, `standing` are entries of the record that can still be read
    as before, `unknown` counts those of which nobody knows whether the record ever got them.
    """

    destination: str
    withdrawn: dict[str, int]
    standing: tuple[str, ...]
    unknown: int


def how_far(store: Store, story: Story) -> tuple[Far, ...]:
    """Every record whose withdrawal is not finished; empty where all of it is."""
    return tuple(
        _far(store, delivery.delivery_id, delivery.destination)
        for delivery in story.deliveries
        if delivery.act is Act.WITHDRAW and delivery.state in OPEN
    )


def far_lines(found: tuple[Far, ...]) -> Iterator[str]:
    """The list in words, for a person who has to finish it by hand or to tell others."""
    for far in found:
        done = ", ".join(f"{count} {kind}" for kind, count in sorted(far.withdrawn.items())) or "nothing yet"
        yield f"record '{far.destination}': withdrawn: {done}"
        if far.standing:
            yield f"  STILL STANDING ({len(far.standing)}): {', '.join(far.standing)}"
        if far.unknown:
            yield f"  not known whether the record holds it: {far.unknown} entries; they are asked for first"


def _far(store: Store, delivery_id: str, destination: str) -> Far:
    wanted = [
        resource
        for resource in fhir.unpack(store.content(delivery_id)).resources
        if resource.rank not in (fhir.Rank.PROVENANCE, fhir.Rank.DEVICE)
    ]
    ledger = store.ledger(destination, [resource.id for resource in wanted])
    # a Binary has no status: it is gone once the notice, or nothing, lies in its place
    done = {resource.id for resource in wanted if fhir.is_filed(resource, ledger)}
    gone = [row for row in ledger.values() if row.status == fhir.GONE or row.resource_id in done]
    left = [row for row in ledger.values() if row not in gone]
    return Far(
        destination=destination,
        withdrawn=dict(Counter(row.resource_type for row in gone)),
        standing=tuple(sorted(f"{row.resource_type}/{row.server_id}" for row in left)),
        unknown=len(wanted) - len(ledger),
    )
