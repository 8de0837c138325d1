"""What the store tells people: held items, a recording's story, the overview."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from gateway.model import Act, DeliveryState, Event, EventKind, Hold, RecordingState, Shown, Way


class HeldKind(StrEnum):
    """What is held: a whole recording, or one delivery of it."""

    RECORDING = "recording"
    DELIVERY = "delivery"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldItem:
    """Something that waits for a person. `id` is what `release` and `refuse` take. `rule` is what a release lets
    pass, "" where it only tries again. `answer` is the server's own words, `facts` the JSON of the preview.
    """

    kind: HeldKind
    id: str
    recording_id: str
    name: str
    reason: str
    rule: str
    sentence: str
    action: str
    since: datetime
    destination: str | None
    answer: str
    facts: bytes | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryStory:
    """One delivery as it stands. `due` counts while it waits, `changed_at` is its last change. `key` is the
    recording's key under which it files, `begun` when its first part was in the record, `patient` into whose entry.
    """

    delivery_id: str
    destination: str
    act: Act
    key: str
    begun: datetime | None
    patient: str | None
    state: DeliveryState
    attempt: int
    due: datetime
    changed_at: datetime
    way: Way | None
    outcome_unknown: bool
    answer: str
    hold: Hold | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What a named person decided. `rule` "": nothing was waived. `delivery_id` None: about the recording. `replaced`
    and `given`: the number that it bore and the one that the person gave it.
    """

    verdict: EventKind
    rule: str
    by: str
    why: str
    at: datetime
    delivery_id: str | None
    replaced: str | None = None
    given: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawal:
    """What a named person took back. `finished`: every record has given it back."""

    key: str
    by: str
    why: str
    at: datetime
    finished: bool
    acknowledged_by: str | None
    acknowledged_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """Everything that happened to one recording, events in order. `superseded_by`: the file that counts instead."""

    recording_id: str
    name: str
    sha256: str
    state: RecordingState
    shown: Shown
    issue: int
    received_at: datetime
    hold: Hold | None
    deliveries: tuple[DeliveryStory, ...]
    decisions: tuple[Decision, ...]
    events: tuple[Event, ...]
    withdrawals: tuple[Withdrawal, ...] = ()
    superseded_by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DestinationState:
    """How one destination fares. `next_due`: when the earliest waiting delivery may be tried, the
    moment of asking where it is overdue.
    """

    destination: str
    waiting: int
    held: int
    done: int
    last_delivered: datetime | None
    next_due: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Overview:
    """All recordings by the state that people see; states with none are left out. `oldest_waiting` is the moment
    since when something has waited to be worked on or delivered (held things wait for people, not for us).
    """

    recordings: Mapping[Shown, int]
    oldest_waiting: datetime | None
    destinations: tuple[DestinationState, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """Rows by state; states with none are left out."""

    recordings: Mapping[RecordingState, int]
    deliveries: Mapping[DeliveryState, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """The last known state of one running part."""

    at: datetime
    detail: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class NotFound:
    """No id begins like this."""

    prefix: str


@dataclass(frozen=True, slots=True)
class Ambiguous:
    """Several ids begin like this; the first ten of them."""

    prefix: str
    ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Decided:
    """The decision stands. `waived` is the rule that may pass from now on, "" for none."""

    recording_id: str
    waived: str = ""


@dataclass(frozen=True, slots=True)
class NotPossible:
    """The decision cannot be taken; `why` is a plain sentence."""

    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredResult:
    """One recording's result. `person_key` is opaque; `facts` the JSON of `preview --json`, with the person in it."""

    recording_id: str
    person_key: str
    delivered: bool
    facts: bytes
