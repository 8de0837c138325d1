"""Several files of one recording: which of them counts, and what a named person has corrected."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, insert, select, update

from gateway.model import Companion, EventKind, Person, RecordingState, Waiver
from gateway.model.event import Event
from gateway.store.database import Part, only_row
from gateway.store.enclosure import companion_of
from gateway.store.enqueue import Addressee, enqueue
from gateway.store.naming import given_of
from gateway.store.rows import instants_text, keyed_hash, waivers_of
from gateway.store.standing import is_withdrawn, standing_of
from gateway.store.tables import decisions, originals, recordings
from gateway.store.trail import append
from gateway.store.values import NewDelivery, Standing
from gateway.store.views import Decided, NotPossible

_R = recordings.c
_WITHDRAWN = NotPossible("This recording was withdrawn; what is withdrawn is never written again.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Original:
    """All that is needed to work on a recording once more. `given`: whose it is by a named person's word."""

    name: str
    content: bytes
    waivers: tuple[Waiver, ...]
    given: Person | None
    companion: Companion | None
    state: RecordingState
    facts: bytes | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Renewed:
    """A recording's result as it is after it was worked on once more; `instants` as in `ReadyIntake`."""

    facts: bytes
    began: datetime
    ended: datetime
    instants: tuple[int, ...]
    deliveries: tuple[NewDelivery, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Decider:
    """Who decided, and why. `rule` is let pass from now on, "" for none."""

    by: str
    why: str
    rule: str = ""


class Corrections(Part):
    """The store's side of correcting what is filed."""

    def counting(self, recording_id: str) -> str:
        """The recording whose content stands in the records instead; itself where none does. StoreError for an
        unknown id.
        """
        with self._database.reading() as connection:
            while True:
                row = only_row(connection, select(_R.superseded_by).where(_R.id == recording_id), recording_id)
                if row.superseded_by is None:
                    return recording_id
                recording_id = row.superseded_by

    def to_work_again(self, recording_id: str) -> Original:
        """Everything that decides what is made of a recording. StoreError for an unknown id."""
        named = select(_R.name, _R.state, _R.facts, _R.companion, _R.companion_fault, originals.c.content)
        with self._database.reading() as connection:
            row = only_row(
                connection,
                named.join(originals, originals.c.sha256 == _R.sha256).where(_R.id == recording_id),
                recording_id,
            )
            return Original(
                name=row.name,
                content=row.content,
                waivers=waivers_of(connection, recording_id),
                given=given_of(connection, recording_id),
                companion=companion_of(connection, row.companion, row.companion_fault),
                state=row.state,
                facts=row.facts,
            )

    def renew(
        self, recording_id: str, standing: Standing, renewed: Renewed, who: Decider, kind: EventKind, now: datetime
    ) -> Decided | NotPossible | None:
        """A named person puts a new result of the same file in place of the one that is filed. Audited as `kind`.

        None (nothing done): what stands is no longer as `standing` says; ask again.
        """
        with self._database.writing() as connection:
            if is_withdrawn(connection, standing.key):
                return _WITHDRAWN
            if standing_of(connection, recording_id) != standing:
                return None
            whose = Addressee(recording_id=recording_id, key=standing.key, person_key=standing.person_key)
            for new in renewed.deliveries:
                enqueue(connection, self._database.key, whose, new, now)
            result = {"facts": renewed.facts, "instants": instants_text(renewed.instants), "changed_at": now}
            span = {"began": renewed.began, "ended": renewed.ended}
            connection.execute(update(recordings).where(_R.id == recording_id).values(**result, **span))
            self._note_renewal(connection, recording_id, renewed.deliveries, who, kind, now)
        return Decided(recording_id, who.rule)

    def _note_renewal(
        self,
        connection: Connection,
        recording_id: str,
        sent: Sequence[NewDelivery],
        who: Decider,
        kind: EventKind,
        now: datetime,
    ) -> None:
        said = {"rule": who.rule, "by": who.by, "why": who.why, "at": now}
        connection.execute(insert(decisions).values(recording_id=recording_id, verdict=kind, **said))
        detail: dict[str, object] = {
            "rule": who.rule,
            "why": keyed_hash(self._database.key, who.why),
            "destinations": sorted(each.destination for each in sent),
        }
        append(connection, [Event(kind=kind, at=now, actor=who.by, recording=recording_id, detail=detail)])
