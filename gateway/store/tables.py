"""The tables as queries see them. `migrations.py` makes them; a test holds the two together.

`originals`   the exported files, byte for byte, by SHA-256, and the PDFs that came beside them
`recordings`  one row per original: its state, what was read from it, who works on it (lease, fence);
              `companion` is the PDF that came with it
              `superseded_by` another file of the same recording, whose content counts instead
`marks`       some marks of a ready recording's values, by which the same readings are found under another name
`expected`    who has which monitor from when, by the word of named persons
`deliveries`  the outbox: recording × destination × act × round; `contents` what each will send (apart, as the rows
              change at every attempt and large rows are slow to change). `key` is the recording's key in the record,
              `begun` when its first part was filed, `patient` the entry of the record into which it went,
              `based_on` its order there (`deliver/ordering` has the words for none)
`filed`       the ledger: what each destination holds under our resource ids
`decisions`   what named persons decided; those that let a rule pass are the waivers
`withdrawals` what was taken back, whose it was said to be, and who acknowledged the notice of it
`audit`, `audit_head`, `heads`   the hash chain, its last link, signed heads
`traces`      what is to be told an audit repository, until it took it
`health`      last known state of the running parts
`nodes`       the gateways that share the store; `arrivals` files of a shared inbox that one of them has in hand
`meta`        schema number and the store's own key
"""

from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Any

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Dialect,
    Double,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    TypeDecorator,
)

from gateway.model import Act, CompanionFault, DeliveryState, EventKind, RecordingState, Way

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)


class Instant(TypeDecorator[datetime]):
    """Whole microseconds since 1970 UTC: exact, and compares the same in every database. Only aware times."""

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> int | None:  # noqa: ARG002
        """An aware time to microseconds."""
        return None if value is None else (value - _EPOCH) // _MICROSECOND

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Microseconds to a time in UTC."""
        return None if value is None else _EPOCH + value * _MICROSECOND


class Listed(TypeDecorator[StrEnum]):
    """A member of a closed list, stored as its text."""

    impl = Text
    cache_ok = True

    def __init__(self, members: type[StrEnum]) -> None:
        super().__init__()
        self.members = members

    def process_bind_param(self, value: StrEnum | None, dialect: Dialect) -> str | None:  # noqa: ARG002
        """A member to its text."""
        return None if value is None else value.value

    def process_result_value(self, value: Any | None, dialect: Dialect) -> StrEnum | None:  # noqa: ARG002
        """Text to the member; ValueError for a text that is not on the list."""
        return None if value is None else self.members(value)


metadata = MetaData()


def _column(name: str, kind: Any, *, null: bool = False, key: bool = False) -> Column[Any]:
    return Column(name, kind, primary_key=key, nullable=null)


_Number = BigInteger().with_variant(Integer, "sqlite")

meta = Table("meta", metadata, _column("name", Text, key=True), _column("value", Text))

originals = Table(
    "originals",
    metadata,
    _column("sha256", Text, key=True),
    _column("content", LargeBinary),
    _column("stored_at", Instant),
)

recordings = Table(
    "recordings",
    metadata,
    _column("number", _Number, key=True),
    _column("id", Text),
    _column("sha256", Text),
    _column("name", Text),
    _column("state", Listed(RecordingState)),
    _column("received_at", Instant),
    _column("changed_at", Instant),
    _column("issue", Integer),
    _column("key", Text, null=True),
    _column("person_key", Text, null=True),
    _column("serial", Text, null=True),
    _column("began", Instant, null=True),
    _column("ended", Instant, null=True),
    _column("instants", Text, null=True),
    _column("marks", Text, null=True),
    _column("order_number", Text, null=True),
    _column("hold", Text, null=True),
    _column("attempt", Integer),
    _column("fence", Integer),
    _column("worker", Text, null=True),
    _column("lease_until", Double, null=True),
    _column("facts", LargeBinary, null=True),
    _column("inbox", Text, null=True),
    _column("companion", Text, null=True),
    _column("companion_fault", Listed(CompanionFault), null=True),
    _column("superseded_by", Text, null=True),
)

expected = Table(
    "expected",
    metadata,
    _column("number", _Number, key=True),
    _column("serial", Text),
    _column("person_key", Text),
    _column("person", Text),
    _column("begins", Instant),
    _column("ends", Instant, null=True),
    _column("by", Text),
    _column("at", Instant),
)

marks = Table("marks", metadata, _column("mark", BigInteger, key=True), _column("recording_id", Text, key=True))

deliveries = Table(
    "deliveries",
    metadata,
    _column("number", _Number, key=True),
    _column("id", Text),
    _column("recording_id", Text),
    _column("destination", Text),
    _column("act", Listed(Act)),
    _column("round", Integer),
    _column("key", Text),
    _column("person_key", Text),
    _column("state", Listed(DeliveryState)),
    _column("created_at", Instant),
    _column("changed_at", Instant),
    _column("due", Instant),
    _column("begun", Instant, null=True),
    _column("patient", Text, null=True),
    _column("based_on", Text, null=True),
    _column("way", Listed(Way), null=True),
    _column("outcome_unknown", Boolean),
    _column("answer", Text, null=True),
    _column("hold", Text, null=True),
    _column("attempt", Integer),
    _column("fence", Integer),
    _column("worker", Text, null=True),
    _column("lease_until", Double, null=True),
)

contents = Table("contents", metadata, _column("delivery_id", Text, key=True), _column("content", LargeBinary))

filed = Table(
    "filed",
    metadata,
    _column("destination", Text, key=True),
    _column("resource_id", Text, key=True),
    _column("recording_id", Text),
    _column("resource_type", Text),
    _column("server_id", Text),
    _column("version", Text, null=True),
    _column("content_hash", Text),
    _column("status", Text),
    _column("changed_at", Instant),
)

decisions = Table(
    "decisions",
    metadata,
    _column("number", _Number, key=True),
    _column("recording_id", Text),
    _column("delivery_id", Text, null=True),
    _column("verdict", Listed(EventKind)),
    _column("rule", Text),
    _column("by", Text),
    _column("why", Text),
    _column("at", Instant),
    _column("replaced", Text, null=True),
    _column("given", Text, null=True),
)

withdrawals = Table(
    "withdrawals",
    metadata,
    _column("number", _Number, key=True),
    _column("recording_id", Text),
    _column("key", Text),
    _column("person_key", Text),
    _column("serial", Text, null=True),
    _column("instants", Text, null=True),
    _column("issue", Integer),
    _column("by", Text),
    _column("why", Text),
    _column("at", Instant),
    _column("acknowledged_by", Text, null=True),
    _column("acknowledged_at", Instant, null=True),
)

audit = Table(
    "audit",
    metadata,
    Column("seq", _Number, primary_key=True, autoincrement=False),
    _column("at", Text),
    _column("kind", Text),
    _column("actor", Text),
    _column("recording", Text, null=True),
    _column("commitment", Text),
    _column("previous", Text),
    _column("hash", Text),
    _column("salt", LargeBinary, null=True),
    _column("detail", LargeBinary, null=True),
)

audit_head = Table(
    "audit_head",
    metadata,
    Column("only", Integer, primary_key=True, autoincrement=False),
    _column("seq", _Number),
    _column("hash", Text),
)

traces = Table(
    "traces",
    metadata,
    _column("number", _Number, key=True),
    _column("content", LargeBinary),
    _column("created_at", Instant),
    _column("due", Instant),
    _column("attempt", Integer),
)

heads = Table("heads", metadata, _column("number", _Number, key=True), _column("line", Text))

health = Table("health", metadata, _column("name", Text, key=True), _column("at", Instant), _column("detail", Text))

nodes = Table(
    "nodes",
    metadata,
    _column("id", Text, key=True),
    _column("name", Text),
    _column("software", Text),
    _column("began", Instant),
    _column("stopped", Boolean),
    _column("seen", Double),
)

arrivals = Table(
    "arrivals", metadata, _column("mark", Text, key=True), _column("worker", Text), _column("lease_until", Double)
)
