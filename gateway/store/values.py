"""What goes into the store and comes out of it while work is done."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from gateway.model import Act, Companion, EventKind, Hold, Person, RecordingState, Waiver, Way

Detail = dict[str, object]
"""Detail of an audited step: codes, counts, hashes, identifiers; JSON-ready."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """A file was taken in. `again`: the same bytes were known already, `state` says what became of them.
    `enclosed`: the PDF that came with it is kept with it, now or from before.
    """

    recording_id: str
    state: RecordingState
    again: bool
    enclosed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeClaim:
    """A received recording, leased to one worker. `attempt` counts from 1; `fence` tells the claims apart."""

    recording_id: str
    name: str
    content: bytes
    attempt: int
    fence: int
    waivers: tuple[Waiver, ...]
    issue: int
    received_at: datetime
    given: Person | None = None
    """whose it is by a named person's word, instead of the one that the file names"""
    companion: Companion | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NewDelivery:
    """One row of the outbox: the content that every attempt will send."""

    destination: str
    act: Act
    content: bytes
    way: Way | None = None
    """how this recording was begun to be written there; None for the first time"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked about a recording before it may become ready: who, on which monitor, when, with which marks of
    its values (`gateway.validate.likeness`); `index` are the marks by which copies are found, `order` the number of
    the order that the export names.
    """

    recording_id: str
    person_key: str
    serial: str | None
    began: datetime
    ended: datetime
    marks: tuple[int, ...]
    index: tuple[int, ...]
    order: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbour:
    """A ready recording of the same person, of the same monitor, or with some of the same values."""

    recording_id: str
    person_key: str
    serial: str | None
    began: datetime
    ended: datetime
    instants: tuple[int, ...]
    marks: tuple[int, ...]
    order: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NewExpected:
    """Somebody says that this person gets this monitor. `person` is the number for people to see; `ends` None: until
    the next entry of the monitor begins.
    """

    serial: str
    person_key: str
    person: str
    begins: datetime
    ends: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected(NewExpected):
    """An entry of the list, with its number and who made it."""

    number: int
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyIntake:
    """Read, examined, composed. `instants`: times of all rows in whole seconds since 1970 UTC, rising.

    `facts` is the JSON of the preview. `events` are the audited steps that led here; the store adds the closing
    `ready` itself. `known`: ids of the recordings that `same_person` told of when this outcome was decided; None
    asks for no check. `question` and `beside` say the same of `neighbours`.
    `issue`: how often this recording was filed anew after a withdrawal, counted from 1; None leaves it as it is.
    `corrects`: it is another file of a recording that is known already.
    """

    key: str
    person_key: str
    serial: str | None
    began: datetime
    ended: datetime
    instants: tuple[int, ...]
    facts: bytes
    events: tuple[tuple[EventKind, Detail], ...]
    deliveries: tuple[NewDelivery, ...]
    known: frozenset[str] | None = None
    question: Question | None = None
    beside: frozenset[str] = frozenset()
    issue: int | None = None
    corrects: "Correcting | None" = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldIntake:
    """Waits for a person. `facts` is the JSON of the preview, None where nothing could be read. The store adds
    the closing `held` to `events` itself.
    """

    hold: Hold
    facts: bytes | None
    events: tuple[tuple[EventKind, Detail], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Correcting:
    """The file that counted so far, and what stood in the records when it was decided how to correct it. `counts`
    False: the new file says nothing that a record does not hold already, so the old one goes on counting.
    """

    recording_id: str
    standing: "Standing"
    counts: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownRecording:
    """A ready recording of one person, for telling whether a new file is the same recording. `issue` is the one
    it was made with; `instants` as in `ReadyIntake`.
    """

    recording_id: str
    key: str
    state: RecordingState
    serial: str | None
    began: datetime
    ended: datetime
    instants: tuple[int, ...]
    issue: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn:
    """A recording that was taken back, for telling whether a new file is that recording. `issue` is the number under
    which it would be filed again, `finished` that every record has given it back. `instants` as in `ReadyIntake`.
    """

    recording_id: str
    serial: str | None
    instants: tuple[int, ...]
    issue: int
    at: datetime
    finished: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Latest:
    """What one destination was last sent, or is to be sent, under a recording's key. `in_record`: it may hold
    something of it.
    """

    delivery_id: str
    recording_id: str
    destination: str
    content: bytes
    way: Way | None
    in_record: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What stands, or is to stand, in the records under one recording's key, with its issue number."""

    key: str
    person_key: str
    issue: int
    latest: tuple[Latest, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryClaim:
    """A delivery, leased to one worker. `way` is None until something was filed. `outcome_unknown`: an earlier
    attempt may have stored something; ask first. `waivers` are those of this delivery and of its recording.
    """

    delivery_id: str
    recording_id: str
    destination: str
    act: Act
    content: bytes
    attempt: int
    fence: int
    way: Way | None
    outcome_unknown: bool
    waivers: tuple[Waiver, ...]
    lease: timedelta
