"""States of recordings and deliveries, and what became of one attempt to deliver."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from gateway.model.hold import Hold


class RecordingState(StrEnum):
    """Where a recording is. `refused` means refused by a person."""

    RECEIVED = "received"
    READY = "ready"
    HELD = "held"
    REFUSED = "refused"


class DeliveryState(StrEnum):
    """Where one delivery (recording × destination × act) is."""

    WAITING = "waiting"
    SENDING = "sending"
    DONE = "done"
    HELD = "held"
    CANCELLED = "cancelled"


class Shown(StrEnum):
    """A recording's state as people see it, from its own state and those of its deliveries."""

    RECEIVED = "received"
    HELD = "held"
    REFUSED = "refused"
    DELIVERING = "delivering"
    PARTLY_DELIVERED = "partly-delivered"
    DELIVERED = "delivered"
    RETRACTED = "retracted"
    SUPERSEDED = "superseded"
    """another file of the same recording counts: it was corrected by it, or adds nothing to it"""
    NOWHERE_TO_GO = "nowhere-to-go"
    """ready, but no delivery is left: no destination is set up, or a person cancelled them all"""


class Act(StrEnum):
    """What a delivery does in the record."""

    FILE = "file"
    CORRECT = "correct"
    WITHDRAW = "withdraw"


class Way(StrEnum):
    """How resources are written to a server; fixed per destination and recording at the first filing."""

    PUT = "put"
    """update-as-create under our own id"""
    CONDITIONAL = "conditional"
    """POST with If-None-Exist on our identifier"""
    SEARCH_FIRST = "search-first"
    """look for our identifier, POST only what is missing"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filed:
    """One row of the ledger: what a destination holds under one of our resource ids.

    `content_hash` is SHA-256 (hex) over the destination-neutral canonical bytes of the resource.
    """

    resource_id: str
    resource_type: str
    server_id: str
    version: str | None
    content_hash: str
    status: str


class Remark(StrEnum):
    """What somebody may want to know of how the person was found, though it speaks against nothing."""

    FAMILY_NAME = "family-name-differs"
    GIVEN_NAME = "given-name-differs"
    NAMES_EXCHANGED = "names-exchanged"
    MERGED = "entry-was-merged"
    """the number stood on an entry that was replaced; its link was followed"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivered:
    """Everything is in the record and was read back. `order`: which one asked for it, "" or None for none that the
    record knows.
    """

    patient: str | None
    count: int
    unchanged: int = 0
    uncertain_before: bool = False
    """an earlier outcome was unknown and is now confirmed"""
    order: str | None = None
    remarks: tuple[Remark, ...] = ()


LONGEST_WAIT = timedelta(hours=7)
"""No next attempt is ever further away, whatever a server asks for. One that is was put there by a wrong clock."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TryLater:
    """Not now. `after` is the server's own wish, None: by our schedule. `unreachable`: no server answered.
    `outcome_unknown`: something may have been stored, ask first next time.
    """

    why: str
    after: timedelta | None = None
    unreachable: bool = False
    outcome_unknown: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejected:
    """The server (or the strict person look-up) said no; a person must decide.

    `outcome_unknown`: something else of the same attempt may have been stored, ask first when it is released.
    """

    hold: Hold
    answer: str = ""
    """the server's OperationOutcome in readable words, scrubbed of the person's details"""
    outcome_unknown: bool = False


Answer = Delivered | TryLater | Rejected


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiver:
    """A named person lets one named rule pass for one recording (or one delivery of it)."""

    rule: str
    by: str
    why: str
    at: datetime


def shown(
    state: RecordingState, *, held: int, open_: int, done: int, withdrawn: int, superseded: bool = False
) -> Shown:
    """What people see. `held`, `open_` (waiting or sending) and `done` count deliveries; `withdrawn` counts the
    withdrawals among the done; `superseded`: another file of the recording counts.
    """
    if state is not RecordingState.READY:
        return Shown(state.value)
    if superseded and not withdrawn:
        return Shown.SUPERSEDED
    if held:
        return Shown.HELD
    if open_:
        return Shown.PARTLY_DELIVERED if done else Shown.DELIVERING
    if withdrawn:
        return Shown.RETRACTED
    return Shown.DELIVERED if done else Shown.NOWHERE_TO_GO
