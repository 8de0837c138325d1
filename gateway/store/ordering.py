"""Which order of a record asked for which recording, so that none is used for two."""

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import select, update

from gateway.errors import LeaseLost
from gateway.model import Act, DeliveryState
from gateway.store.again import again
from gateway.store.database import Part
from gateway.store.tables import deliveries
from gateway.store.values import DeliveryClaim

_D = deliveries.c
_BACK = deliveries.alias("back")


class Ordering(Part):
    """The store's side of tying results to orders. What an order is, and the words for none, is the caller's."""

    def order_of(self, claim: DeliveryClaim) -> str | None:
        """What was decided for this recording at this destination; None for nothing yet."""
        with self._database.reading() as connection:
            return connection.execute(
                select(_D.based_on)
                .where(_D.key == _key_of(claim), _D.destination == claim.destination, _D.based_on.is_not(None))
                .order_by(_D.number.desc())
                .limit(1)
            ).scalar_one_or_none()

    def orders_taken(self, claim: DeliveryClaim, orders: Collection[str]) -> frozenset[str]:
        """Those that other recordings were filed for there, and not withdrawn since."""
        back = _BACK.c
        withdrawn = (back.key == _D.key) & (back.destination == _D.destination) & (back.act == Act.WITHDRAW)
        with self._database.reading() as connection:
            rows = connection.execute(
                select(_D.based_on)
                .where(_D.destination == claim.destination, _D.based_on.in_(sorted(orders)))
                .where(_D.key != _key_of(claim), _D.state != DeliveryState.CANCELLED)
                .where(~select(back.number).where(withdrawn, back.state == DeliveryState.DONE).exists())
            )
            return frozenset(rows.scalars())

    @again
    def keep_order(self, claim: DeliveryClaim, order: str, now: datetime) -> None:
        """What was decided, before anything is written. Raises LeaseLost where the claim has passed on."""
        mine = (_D.id == claim.delivery_id) & (_D.fence == claim.fence) & (_D.state == DeliveryState.SENDING)
        with self._database.writing() as connection:
            changed = connection.execute(update(deliveries).where(mine).values(based_on=order, changed_at=now))
            if changed.rowcount != 1:
                raise LeaseLost("the delivery is worked on elsewhere")


def _key_of(claim: DeliveryClaim) -> object:
    own = deliveries.alias("own").c
    return select(own.key).where(own.id == claim.delivery_id).scalar_subquery()
