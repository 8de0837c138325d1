"""What an audit repository is told of each delivery, and how it gets there: beside the deliveries, never before.

Each trace is stored with the step it tells of (the parts that were filed, the answer), so a kill loses none; it is
sent by itself afterwards, until the repository took it. Without a repository nothing is made and nothing is stored.
"""

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from gateway import fhir
from gateway.deliver import Recipient, Repository, backoff
from gateway.fhir.traces import Failure, Interaction, Talkers, batch, failed, looked_up, stored
from gateway.mapping.codes import Codes
from gateway.model import Act, Answer, Delivered, Filed, HoldReason, Rejected, TryLater
from gateway.store import DeliveryClaim, Store

LEASE = timedelta(minutes=5)
REFUSED_PAUSE = timedelta(hours=1)
"""A repository that says no is asked again seldom: somebody has to mend it."""

ANSWERED = frozenset(
    {
        HoldReason.PERSON_NOT_FOUND,
        HoldReason.PERSON_SEVERAL,
        HoldReason.PERSON_INACTIVE,
        HoldReason.PERSON_DECEASED,
        HoldReason.PERSON_MISMATCH,
        HoldReason.BIRTH_DATE_MISSING,
    }
)
"""The record answered who has the number; that nobody could be taken for the person is no failure of asking."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tracing:
    """That a repository is to be told. `host` is the name of this machine."""

    codes: Codes
    host: str

    def of(self, store_key: bytes, server: Recipient, claim: DeliveryClaim) -> "Tracer":
        """The tracer of one attempt."""
        base = server.destination.url.rstrip("/")
        talkers = Talkers(codes=self.codes, store_key=store_key, base=base, host=self.host)
        return Tracer(talkers, claim)


@dataclass(slots=True)
class Tracer:
    """Turns what happens during one attempt into AuditEvents. `talkers` None: nobody is to be told."""

    talkers: Talkers | None
    claim: DeliveryClaim
    known: dict[str, Filed] = field(default_factory=dict)
    patient: str | None = None
    system: str = ""
    found_person: bool = False

    def begins(self, parcel: fhir.Parcel, ledger: dict[str, Filed]) -> None:
        """What was in the record before this attempt, and by which kind of number the person is asked for."""
        self.known = dict(ledger)
        self.system = parcel.person.identifier.system if parcel.person.identifier else ""

    def found(self, link: fhir.PatientLink, at: datetime) -> tuple[bytes, ...]:
        """The person is known. Nobody was asked for a person who is only named by number, nor for a withdrawal."""
        self.found_person, self.patient = True, link.reference
        if self.talkers is None or link.reference is None or self.claim.act is Act.WITHDRAW:
            return ()
        return (batch([looked_up(self.talkers, self.system, link.reference, at)]),)

    def filed(self, rows: Sequence[Filed], at: datetime) -> tuple[bytes, ...]:
        """Parts are in the record. What was only read back is no event."""
        events = []
        for row in rows:
            before = self.known.get(row.resource_id)
            self.known[row.resource_id] = row
            if self.talkers is None or (before and before.content_hash == row.content_hash):
                continue
            interaction = Interaction.UPDATE if before else Interaction.CREATE
            events.append(stored(self.talkers, row, interaction, self.patient, at))
        return (batch(events),) if events else ()

    def ended(self, answer: Answer, at: datetime) -> tuple[bytes, ...]:
        """The attempt is over. What went well was told before."""
        if self.talkers is None or isinstance(answer, Delivered):
            return ()
        asking = not self.found_person
        if asking and isinstance(answer, Rejected) and answer.hold.reason in ANSWERED:
            return (batch([looked_up(self.talkers, self.system, None, at)]),)
        writing = Interaction.CREATE if self.claim.act is Act.FILE else Interaction.UPDATE
        event = failed(
            self.talkers,
            Interaction.QUERY if asking else writing,
            (self.claim.recording_id, self.system),
            self.patient,
            Failure.NOT_NOW if isinstance(answer, TryLater) else Failure.REFUSED,
            _code(answer),
            at,
        )
        return (batch([event]),)


def send_next(store: Store, repository: Repository, clock: Callable[[], datetime]) -> str | None:
    """Tell the repository the oldest trace that is due: "" when it took it, else why not; None: nothing is due."""
    claim = store.claim_trace(LEASE, clock())
    if claim is None:
        return None
    trouble = repository.take(claim.content)
    if trouble is None:
        store.trace_taken(claim)
        return ""
    later = TryLater(why=trouble.answer, after=REFUSED_PAUSE) if isinstance(trouble, Rejected) else trouble
    store.trace_later(claim, clock() + backoff(claim.attempt, later, random.random()))
    return later.why or "the repository refused it"


def _code(answer: TryLater | Rejected) -> str:
    if isinstance(answer, Rejected):
        return answer.hold.rule or answer.hold.reason.value
    if answer.unreachable:
        return "unreachable"
    return "outcome-unknown" if answer.outcome_unknown else "postponed"
