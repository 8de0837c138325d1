"""T3 and T4: one delivery is claimed, and what became of it is noted."""

from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, func, literal, select, update

from gateway.errors import LeaseLost
from gateway.model import Answer, DeliveryState, Event, EventKind, Filed, Way
from gateway.store import outcome
from gateway.store.again import again
from gateway.store.clock import AGREED, ended
from gateway.store.database import Part, database_now
from gateway.store.ledger import read_ledger, write_ledger
from gateway.store.rows import waivers_of
from gateway.store.standing import stop_overtaken
from gateway.store.tables import Instant, contents, deliveries
from gateway.store.traces import keep
from gateway.store.trail import append
from gateway.store.values import DeliveryClaim

_D = deliveries.c
_EARLIER = deliveries.alias("earlier")


class Outbox(Part):
    """The store's side of delivering."""

    def claim_delivery(
        self, worker: str, lease: timedelta, now: datetime, destinations: Collection[str]
    ) -> DeliveryClaim | None:
        """T3: lease the delivery that is due longest; None where nothing may be sent now.

        Only where no earlier waiting or sending delivery goes to the same destination for the same person (held
        ones do not block). A lease that ran out is claimable again, with its outcome unknown, and audited as
        `recovered`. Every request must end before the lease does.
        """
        with self._database.writing() as connection:
            _bring_back(connection, now)
            for recording_id, delivery_id in stop_overtaken(connection, now):
                stopped: dict[str, object] = {"delivery": delivery_id}
                kind = EventKind.OVERTAKEN
                append(connection, [Event(kind=kind, at=now, actor=worker, recording=recording_id, detail=stopped)])
            number = connection.execute(_longest_due(now, destinations)).scalar_one_or_none()
            if number is None:
                return None
            row = connection.execute(
                select(deliveries, contents.c.content)
                .join(contents, contents.c.delivery_id == _D.id)
                .where(_D.number == number)
            ).one()
            lost = row.state is DeliveryState.SENDING
            claim = _claim(row, lost, lease, waivers_of(connection, row.recording_id, row.id))
            connection.execute(
                update(deliveries)
                .where(_D.number == number)
                .values(
                    state=DeliveryState.SENDING,
                    attempt=claim.attempt,
                    fence=claim.fence,
                    outcome_unknown=claim.outcome_unknown,
                    worker=worker,
                    lease_until=database_now() + lease.total_seconds(),
                    changed_at=now,
                )
            )
            kinds = (EventKind.RECOVERED, EventKind.SENDING) if lost else (EventKind.SENDING,)
            detail = {"attempt": claim.attempt, "outcome_unknown": claim.outcome_unknown}
            append(connection, [told(claim, kind, now, worker, detail) for kind in kinds])
            return claim

    @again
    def note_filed(
        self,
        claim: DeliveryClaim,
        way: Way,
        resources: Sequence[Filed],
        now: datetime,
        actor: str,
        traces: Sequence[bytes] = (),
    ) -> None:
        """Part of the delivery is in the record: ledger and way are noted at once, and the lease is extended.

        `traces`: what an audit repository is to be told of it. Raises LeaseLost where the claim has passed
        to another worker.
        """
        with self._database.writing() as connection:
            extended = database_now() + claim.lease.total_seconds()
            begun = {"begun": func.coalesce(_D.begun, literal(now, Instant))} if resources else {}
            _change(connection, claim, {"way": way, "lease_until": extended, "changed_at": now, **begun})
            write_ledger(connection, claim.destination, claim.recording_id, resources, now)
            detail = {"way": way.value, "resources": sorted({r.resource_id for r in resources})}
            append(connection, [told(claim, EventKind.PART_FILED, now, actor, detail)])
            keep(connection, traces, now)

    @again
    def answer(
        self,
        claim: DeliveryClaim,
        answer: Answer,
        due: datetime | None,
        now: datetime,
        actor: str,
        traces: Sequence[bytes] = (),
    ) -> None:
        """T4: what became of the attempt. `due` is needed for TryLater and ignored otherwise.

        The texts of the answer go into the audit trail and must be scrubbed. Raises LeaseLost where the claim
        has passed to another worker, ValueError where `due` is missing.
        """
        values = outcome.columns(answer, due, claim.outcome_unknown)
        kind, detail = outcome.told(answer, due, claim.outcome_unknown)
        with self._database.writing() as connection:
            _change(connection, claim, {**values, "worker": None, "lease_until": None, "changed_at": now})
            append(connection, [told(claim, kind, now, actor, detail)])
            keep(connection, traces, now)

    def let_go(self, claim: DeliveryClaim) -> None:
        """End the lease now, as what became of the attempt could not be noted; not that of a claim that passed on."""
        with self._database.writing() as connection:
            connection.execute(update(deliveries).where(_mine(claim)).values(lease_until=database_now()))

    def ledger(self, destination: str, resource_ids: Collection[str]) -> dict[str, Filed]:
        """What the destination holds under these resource ids, by id."""
        with self._database.reading() as connection:
            return read_ledger(connection, destination, resource_ids)


def told(claim: DeliveryClaim, kind: EventKind, at: datetime, actor: str, detail: dict[str, Any]) -> Event:
    """A step of one delivery as an event."""
    detail = {"delivery": claim.delivery_id, "destination": claim.destination, "act": claim.act.value, **detail}
    return Event(kind=kind, at=at, actor=actor, recording=claim.recording_id, detail=detail)


def unblocked() -> Any:
    """No earlier delivery to the same destination for the same person is waiting or being sent."""
    earlier = _EARLIER.c
    open_ = earlier.state.in_([DeliveryState.WAITING, DeliveryState.SENDING])
    same = (earlier.destination == _D.destination) & (earlier.person_key == _D.person_key)
    return ~select(earlier.number).where(same, open_, earlier.number < _D.number).exists()


def _bring_back(connection: Connection, now: datetime) -> None:
    """What was put off while our clock stood ahead waits as long as was meant, from now: not until that far day."""
    waiting = (_D.state == DeliveryState.WAITING) & (_D.due > now) & (_D.changed_at > now + AGREED)
    values = {"due": literal(now, Instant) + (_D.due - _D.changed_at), "changed_at": now}
    connection.execute(update(deliveries).where(waiting).values(values))


def _longest_due(now: datetime, destinations: Collection[str]) -> Any:
    waiting = (_D.state == DeliveryState.WAITING) & (_D.due <= now)
    lost = (_D.state == DeliveryState.SENDING) & ended(_D.lease_until)
    return (
        select(_D.number)
        .where(waiting | lost, _D.destination.in_(sorted(destinations)), unblocked())
        .order_by(_D.due, _D.number)
        .limit(1)
        .with_for_update(skip_locked=True, of=deliveries)
    )


def _claim(row: Row[Any], lost: bool, lease: timedelta, waivers: Any) -> DeliveryClaim:
    return DeliveryClaim(
        delivery_id=row.id,
        recording_id=row.recording_id,
        destination=row.destination,
        act=row.act,
        content=row.content,
        attempt=row.attempt + 1,
        fence=row.fence + 1,
        way=row.way,
        outcome_unknown=row.outcome_unknown or lost,
        waivers=waivers,
        lease=lease,
    )


def _change(connection: Connection, claim: DeliveryClaim, values: dict[str, Any]) -> None:
    if connection.execute(update(deliveries).where(_mine(claim)).values(values)).rowcount != 1:
        raise LeaseLost("the delivery is worked on elsewhere")


def _mine(claim: DeliveryClaim) -> Any:
    return (_D.id == claim.delivery_id) & (_D.fence == claim.fence) & (_D.state == DeliveryState.SENDING)
