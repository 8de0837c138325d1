"""One record server: file a recording there, once in effect, whatever the network does."""

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

from gateway import fhir
from gateway.deliver.auth import credentials
from gateway.deliver.certificates import ageing, of_ours, of_server
from gateway.deliver.changing import ready_to_correct, ready_to_withdraw
from gateway.deliver.checking import Checked, bundles_for, server_checks, way_for
from gateway.deliver.comparing import Kept, compared
from gateway.deliver.filing import REPORT_RULE, Faults, Note, Writing
from gateway.deliver.lookup import Wanted, find_person
from gateway.deliver.ordering import Remembered, ordered
from gateway.deliver.outcome import Shape, of_shape
from gateway.deliver.readback import read_back
from gateway.deliver.stopped import Stopped, rejected
from gateway.deliver.talk import Habits, Talk, words_of
from gateway.deliver.wire import Request, Wire
from gateway.model import Act, Answer, Delivered, Filed, Hold, HoldReason, Person, Rejected, TryLater, Way
from gateway.model.reconciled import Difference, Fault
from gateway.settings.destination import Destination

PATIENCE = timedelta(minutes=8)
"""One attempt ends before its lease does, so that never two workers write the same recording."""
CAPABILITIES_LIVE = 3600.0
"""seconds"""


def today_utc() -> date:
    """The day it is now."""
    return datetime.now(UTC).date()


def no_faults(bundle: Mapping[str, Any]) -> tuple[str, ...]:  # noqa: ARG001
    """For content that was checked elsewhere."""
    return ()


def nobody_listens(link: fhir.PatientLink) -> None:
    """For callers that need not know when the person was found."""


@dataclass(frozen=True, slots=True)
class _Known:
    capabilities: fhir.Capabilities
    until: float


class Server:
    """One destination; safe to use from several threads."""

    def __init__(
        self,
        destination: Destination,
        software: str = "bp-gateway",
        patience: timedelta = PATIENCE,
        today: Callable[[], date] = today_utc,
        faults: Faults = no_faults,
    ) -> None:
        """`software` is the User-Agent; `faults` checks each bundle once more just before it is sent."""
        self.destination = destination
        self._patience = patience
        self._today = today
        self._faults = faults
        self._wire = Wire(destination, software)
        self._credentials = credentials(destination, self._wire)
        self._habits = Habits()
        self._lock = threading.Lock()
        self._known: _Known | None = None

    def file(
        self,
        parcel: fhir.Parcel,
        way: Way | None,
        ledger: Mapping[str, Filed],
        note: Note,
        uncertain: bool = False,
        waived: frozenset[str] = frozenset(),
        found: Callable[[fhir.PatientLink], None] = nobody_listens,
        act: Act = Act.FILE,
        orders: Remembered | None = None,
    ) -> Answer:
        """Find the person, write what the ledger lacks, read it back.

        `way`: how this recording was begun here, None for the first time. `note` is called after every part with
        the way and the rows that the server now holds, so that a kill loses nothing. `uncertain`: the outcome of
        an earlier attempt is unknown, so the server is asked before anything is sent. `waived`: names of rules
        that a person let pass. `found` is called once the person is known, before anything is written. `act`: file,
        or change what was filed. `orders`: what is known of them from before. Never raises for anything that a server
        or network does.
        """
        talk = self._talk(parcel.person)
        try:
            return self._file(talk, parcel, way, ledger, note, uncertain, waived, found, act, orders or Remembered())
        except Stopped as stopped:
            return stopped.answer

    def compare(
        self, parcel: fhir.Parcel, kept: Kept, waived: frozenset[str] = frozenset()
    ) -> tuple[Difference, ...] | TryLater:
        """What is there of one recording, beside what was filed; nothing is written. `parcel` says whose it is.

        TryLater where the server cannot be asked now. Never raises for anything that a server or network does.
        """
        talk = self._talk(parcel.person)
        try:
            link = find_person(talk, self.destination, Wanted(parcel, waived, self._today()))
            return tuple(compared(talk, replace(link, order=kept.order), kept))
        except Stopped as stopped:
            if isinstance(stopped.answer, TryLater):
                return stopped.answer
            return (Difference(fault=Fault.NOT_COMPARED, what=stopped.answer.hold.reason.value),)

    def check(self) -> tuple[Checked, ...]:
        """Look at the server without writing anything; what is not good says what to mend."""
        return tuple(server_checks(self.destination, self._talk()))

    def warnings(self, now: datetime) -> tuple[str, ...]:
        """What will soon stop us, in sentences: certificates that end within 30 days, a key that is not accepted.

        Asks nobody; the server's certificates are those that it showed last.
        """
        held = (*of_ours(self.destination), *of_server(self._wire.chain))
        return (*ageing(held, now), *filter(None, [self._credentials.remark]))

    def _file(
        self,
        talk: Talk,
        parcel: fhir.Parcel,
        way: Way | None,
        ledger: Mapping[str, Filed],
        note: Note,
        uncertain: bool,
        waived: frozenset[str],
        found: Callable[[fhir.PatientLink], None],
        act: Act,
        orders: Remembered,
    ) -> Answer:
        capabilities = self.capabilities(talk)
        chosen, changed = self._way(capabilities, way, frozenset(item.type for item in parcel.resources))
        link = fhir.PatientLink()
        if act is not Act.WITHDRAW:
            link = find_person(talk, self.destination, Wanted(parcel, waived, self._today()))
            found(link)
            if self.destination.orders.codes:
                link = ordered(talk, self.destination.orders, parcel, link, orders, waived)
        writing = Writing(
            talk=talk,
            resources=parcel.resources,
            link=link,
            way=chosen,
            bundles=bundles_for(capabilities),
            tags=capabilities.tags,
            ledger=dict(ledger),
            note=note,
            most_entries=self.destination.most_entries,
            most_bytes=self.destination.most_bytes,
            faults=self._faults,
        )
        if way is not chosen:
            note(chosen, ())  # before the first write, so that every later attempt goes the same way
        if act is Act.WITHDRAW:
            ready_to_withdraw(writing, waived)
            found(writing.link)
        if act is Act.CORRECT:
            ready_to_correct(writing, waived)
        if act is Act.FILE and (uncertain or changed or chosen is Way.SEARCH_FIRST):
            writing.ask_first()
        before = sum(fhir.is_filed(resource, writing.ledger) for resource in writing.resources)
        writing.send_all()
        self._note_versions(writing, read_back(writing, waived))
        if writing.report_left_out and REPORT_RULE not in waived:
            return Rejected(hold=Hold(reason=HoldReason.REPORT_DROPPED, rule=REPORT_RULE))
        return Delivered(
            patient=writing.link.reference,
            count=len(writing.resources),
            unchanged=before,
            uncertain_before=uncertain,
            order=link.order,
            remarks=link.remarks,
        )

    def _note_versions(self, writing: Writing, rows: Sequence[Filed]) -> None:
        """The versions as the server shows them, where a write did not say."""
        if changed := [row for row in rows if row != writing.ledger[row.resource_id]]:
            writing.note(writing.way, changed)

    def _way(self, capabilities: fhir.Capabilities, way: Way | None, types: frozenset[str]) -> tuple[Way, bool]:
        """The way to write, and whether it had to be changed since the recording was begun."""
        if not capabilities.speaks_r4:
            version = capabilities.fhir_version or "unknown"
            raise rejected(HoldReason.RECORD_UNSUITABLE, f"it speaks FHIR {version}, needed is 4.0")
        best = way_for(capabilities, types)
        if best is None:
            raise rejected(
                HoldReason.RECORD_UNSUITABLE,
                "it declares neither updateCreate nor conditionalCreate nor a search by identifier for all of "
                f"{', '.join(sorted(types))} (and _tag or target for Provenance)",
            )
        if way is None or way is best:
            return best, False
        still = {
            Way.PUT: types <= capabilities.update_create,
            Way.CONDITIONAL: types <= capabilities.conditional_create,
            Way.SEARCH_FIRST: True,
        }[way]
        return (way, False) if still else (best, True)

    def capabilities(self, talk: Talk) -> fhir.Capabilities:
        """What the server declares, asked once an hour. Raises Stopped."""
        with self._lock:
            if self._known and time.monotonic() < self._known.until:
                return self._known.capabilities
        reply = talk.open_to_all(Request(method="GET", address=f"{talk.base}/metadata"))
        found = fhir.capabilities(reply.body)
        if found is None:
            raise Stopped(of_shape(Shape.NOT_FHIR, writes=False))
        with self._lock:
            self._known = _Known(found, time.monotonic() + CAPABILITIES_LIVE)
        return found

    def _talk(self, person: Person | None = None) -> Talk:
        return Talk(
            base=self.destination.url,
            wire=self._wire,
            credentials=self._credentials,
            habits=self._habits,
            deadline=time.monotonic() + self._patience.total_seconds(),
            masked=words_of(person) if person else (),
        )
