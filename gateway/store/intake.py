"""T1 and T2: a file is taken in; it is worked on, and becomes ready or held."""

from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from gateway.errors import LeaseLost, StoreError
from gateway.model import Companion, Event, EventKind, RecordingState
from gateway.store.again import again
from gateway.store.clock import ended
from gateway.store.counting import counts, settle_who_counts
from gateway.store.database import Part, database_now
from gateway.store.enclosure import companion_of, companion_told, enclose
from gateway.store.enqueue import Addressee, enqueue
from gateway.store.naming import given_of
from gateway.store.neighbours import beside, keep_marks
from gateway.store.rows import hold_text, instants_from, instants_text, keyed_hash, opaque_id, waivers_of
from gateway.store.standing import standing_of
from gateway.store.tables import originals, recordings, withdrawals
from gateway.store.trail import append
from gateway.store.values import Correcting, HeldIntake, IntakeClaim, KnownRecording, ReadyIntake, Receipt

_R = recordings.c


class Intake(Part):
    """The store's side of taking in."""

    @again
    def receive(
        self,
        content: bytes,
        name: str,
        now: datetime,
        actor: str,
        inbox: str | None = None,
        companion: Companion | None = None,
    ) -> Receipt:
        """T1: original, row and audit entry in one transaction. Only afterwards may the file be moved.

        The same bytes again change nothing but the audit trail, unless what they held was withdrawn: then they are
        worked on again, and meet the rule for that. The trail gets a keyed hash of the file's name, as names of
        files often hold names of people; the name itself stays in the row.
        `inbox`: the id of the folder it came from, where several nodes share the store. `companion`: the PDF that
        came with it; it is kept with a recording that is still to be worked on, and with none that is filed already.
        """
        key, digest = self._database.key, sha256(content).hexdigest()
        recording_id = opaque_id(key, "recording", digest)
        detail: dict[str, object] = {"sha256": digest, "bytes": len(content), "name": keyed_hash(key, name)}
        with self._database.writing() as connection:
            state = connection.execute(select(_R.state).where(_R.sha256 == digest)).scalar_one_or_none()
            kind = EventKind.RECEIVED if state is None else EventKind.SEEN_AGAIN
            if state is None:
                _insert(connection, recording_id, digest, name, content, now, inbox)
            elif _take_anew(connection, recording_id, now):
                state = RecordingState.RECEIVED
            enclosed = companion is not None and enclose(connection, recording_id, companion, now)
            detail |= companion_told(companion) if companion and enclosed else {}
            append(connection, [Event(kind=kind, at=now, actor=actor, recording=recording_id, detail=detail)])
        return Receipt(
            recording_id=recording_id,
            state=state or RecordingState.RECEIVED,
            again=state is not None,
            enclosed=enclosed,
        )

    def claim_received(self, worker: str, lease: timedelta, now: datetime) -> IntakeClaim | None:
        """Lease the oldest received recording that nobody works on; None where there is none.

        A lease that ran out (the worker died or hangs) is claimable again; that is audited as `recovered`.
        """
        with self._database.writing() as connection:
            row = connection.execute(_oldest_free()).one_or_none()
            if row is None:
                return None
            attempt, fence = row.attempt + 1, row.fence + 1
            connection.execute(
                update(recordings)
                .where(_R.number == row.number)
                .values(
                    attempt=attempt, fence=fence, worker=worker, lease_until=database_now() + lease.total_seconds()
                )
            )
            if row.lease_until is not None:
                detail: dict[str, object] = {"step": "intake", "attempt": attempt}
                append(
                    connection,
                    [Event(kind=EventKind.RECOVERED, at=now, actor=worker, recording=row.id, detail=detail)],
                )
            return IntakeClaim(
                recording_id=row.id,
                name=row.name,
                content=row.content,
                attempt=attempt,
                fence=fence,
                waivers=waivers_of(connection, row.id),
                given=given_of(connection, row.id),
                issue=row.issue,
                received_at=row.received_at,
                companion=companion_of(connection, row.companion, row.companion_fault),
            )

    @again
    def finish_intake(self, claim: IntakeClaim, outcome: ReadyIntake | HeldIntake, now: datetime, actor: str) -> bool:
        """T2: the outcome, its outbox rows and its audit entries in one transaction.

        False (nothing stored, the claim still holds): `outcome.known` or `outcome.beside` is out of date, as another
        recording became ready meanwhile, or what stood in the records of the one that it corrects moved on; ask again
        and decide anew.
        Raises LeaseLost where the claim has passed to another worker or a person decided meanwhile.
        """
        with self._database.writing() as connection:
            if isinstance(outcome, ReadyIntake) and outcome.known is not None:
                known = {k.recording_id for k in ready_of(connection, outcome.person_key)}
                if known - {claim.recording_id} != outcome.known - {claim.recording_id}:
                    return False
            if isinstance(outcome, ReadyIntake) and outcome.question is not None:
                if {each.recording_id for each in beside(connection, outcome.question)} != outcome.beside:
                    return False
                keep_marks(connection, outcome.question)
            if isinstance(outcome, ReadyIntake) and _moved_on(connection, outcome.corrects):
                return False
            _set_state(connection, claim, outcome, now)
            if isinstance(outcome, ReadyIntake):
                whose = Addressee(recording_id=claim.recording_id, key=outcome.key, person_key=outcome.person_key)
                for new in outcome.deliveries:
                    enqueue(connection, self._database.key, whose, new, now)
                settle_who_counts(connection, claim.recording_id, outcome.corrects)
            append(connection, _events(claim, outcome, now, actor))
        return True

    def give_back(self, claim: IntakeClaim, now: datetime) -> None:
        """The attempt is not counted and the lease ends: the store was at fault, not the file.

        Nothing happens where the claim has passed on. Where the store cannot be written even now, the attempt
        counts and the lease runs out by itself; that is no error, as the caller has one to tell already.
        """
        values = {"attempt": claim.attempt - 1, "worker": None, "lease_until": None, "changed_at": now}
        with suppress(StoreError), self._database.writing() as connection:
            connection.execute(update(recordings).where(_mine(claim)).values(values))

    def enclosed_in(self, digest: str) -> str | None:
        """The id of a recording with which the PDF of this SHA-256 (hex) is kept; None where there is none."""
        with self._database.reading() as connection:
            kept = select(_R.id).where(_R.companion == digest).order_by(_R.number).limit(1)
            found: str | None = connection.execute(kept).scalar_one_or_none()
            return found

    def same_person(self, person_key: str) -> tuple[KnownRecording, ...]:
        """The person's recordings that became ready, count, and were neither refused nor withdrawn, oldest first.

        Held ones are not told of: a corrected export must not be held because its faulty forerunner was.
        """
        with self._database.reading() as connection:
            return tuple(ready_of(connection, person_key))


def _insert(
    connection: Connection,
    recording_id: str,
    digest: str,
    name: str,
    content: bytes,
    now: datetime,
    inbox: str | None,
) -> None:
    connection.execute(insert(originals).values(sha256=digest, content=content, stored_at=now))
    connection.execute(
        insert(recordings).values(
            id=recording_id,
            sha256=digest,
            name=name.encode("utf-8", "backslashreplace").decode("utf-8"),  # names are bytes to the file system
            state=RecordingState.RECEIVED,
            received_at=now,
            changed_at=now,
            issue=1,
            attempt=0,
            fence=0,
            inbox=inbox,
        )
    )


def _take_anew(connection: Connection, recording_id: str, now: datetime) -> bool:
    withdrawn = select(withdrawals.c.number).where(withdrawals.c.key == _R.key).exists()
    again = {"state": RecordingState.RECEIVED, "fence": _R.fence + 1, "attempt": 0, "changed_at": now}
    mine = (_R.id == recording_id, _R.state == RecordingState.READY, withdrawn)
    return connection.execute(update(recordings).where(*mine).values(again)).rowcount == 1


def _oldest_free() -> Any:
    free = _R.lease_until.is_(None) | ended(_R.lease_until)
    return (
        select(recordings, originals.c.content)
        .join(originals, originals.c.sha256 == _R.sha256)
        .where(_R.state == RecordingState.RECEIVED, free)
        .order_by(_R.number)
        .limit(1)
        .with_for_update(skip_locked=True, of=recordings)
    )


def _moved_on(connection: Connection, corrects: Correcting | None) -> bool:
    return corrects is not None and standing_of(connection, corrects.recording_id) != corrects.standing


def _set_state(connection: Connection, claim: IntakeClaim, outcome: ReadyIntake | HeldIntake, now: datetime) -> None:
    values: dict[str, object] = {"changed_at": now, "worker": None, "lease_until": None, "facts": outcome.facts}
    if isinstance(outcome, ReadyIntake):
        values |= {"state": RecordingState.READY, "hold": None, "instants": instants_text(outcome.instants)}
        values |= {name: getattr(outcome, name) for name in ("key", "person_key", "serial", "began", "ended")}
        values |= {"issue": outcome.issue} if outcome.issue is not None else {}
        if (question := outcome.question) is not None:
            values |= {"marks": instants_text(question.marks), "order_number": question.order}
    else:
        values |= {"state": RecordingState.HELD, "hold": hold_text(outcome.hold)}
    if connection.execute(update(recordings).where(_mine(claim)).values(values)).rowcount != 1:
        raise LeaseLost("the recording is worked on elsewhere, or a person decided meanwhile")


def _mine(claim: IntakeClaim) -> Any:
    return (_R.id == claim.recording_id) & (_R.fence == claim.fence) & (_R.state == RecordingState.RECEIVED)


def _events(claim: IntakeClaim, outcome: ReadyIntake | HeldIntake, now: datetime, actor: str) -> Iterator[Event]:
    closing: dict[str, object]
    if isinstance(outcome, ReadyIntake):
        kind = EventKind.READY
        closing = {"destinations": sorted(new.destination for new in outcome.deliveries)}
    else:
        kind = EventKind.HELD
        closing = {"reason": outcome.hold.reason.value, "rule": outcome.hold.rule}
    for step, detail in (*outcome.events, (kind, closing)):
        yield Event(kind=step, at=now, actor=actor, recording=claim.recording_id, detail=detail)


def ready_of(connection: Connection, person_key: str) -> Iterator[KnownRecording]:
    """The person's recordings that became ready, count, and were neither refused nor withdrawn, oldest first."""
    withdrawn = select(withdrawals.c.number).where(withdrawals.c.key == _R.key).exists()
    rows = connection.execute(
        select(recordings)
        .where(_R.person_key == person_key, _R.state == RecordingState.READY, counts(), ~withdrawn)
        .order_by(_R.number)
    )
    for row in rows.all():
        yield _known(row)


def _known(row: Row[Any]) -> KnownRecording:
    return KnownRecording(
        recording_id=row.id,
        key=row.key,
        state=row.state,
        serial=row.serial,
        began=row.began,
        ended=row.ended,
        instants=instants_from(row.instants),
        issue=row.issue,
    )
