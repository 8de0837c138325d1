"""Write the missing resources, part by part, and believe nothing that was not answered entry by entry."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from gateway import fhir
from gateway.deliver.outcome import Shape, Verdict, of_shape, of_status, row_of, together
from gateway.deliver.sending import Bundles, place_of, request_of
from gateway.deliver.stopped import Stopped, rejected
from gateway.deliver.talk import Talk
from gateway.deliver.wire import Reply, Request
from gateway.fhir.copies import differences
from gateway.fhir.heard import EntryAnswer, bundle_answer, version_of, written_to
from gateway.model import Filed, Hold, HoldReason, Rejected, TryLater, Way

Note = Callable[[Way, Sequence[Filed]], None]
Faults = Callable[[Mapping[str, Any]], tuple[str, ...]]
"""What is wrong with a bundle that is about to be sent (`fhir.check_bundle`)."""

REPORT_RULE = "report-dropped"
LAG = timedelta(seconds=60)
"""How long an unknown outcome rests before a server that is only searched is asked: its search may lag."""


@dataclass(slots=True, kw_only=True)
class Writing:
    """One recording on its way into one server; `ledger` grows with every answer."""

    talk: Talk
    resources: tuple[fhir.Resource, ...]
    link: fhir.PatientLink
    way: Way
    bundles: Bundles
    tags: bool
    ledger: dict[str, Filed]
    note: Note
    most_entries: int
    most_bytes: int
    faults: Faults
    report_left_out: bool = False
    asked_again: bool = False
    provenance_asked: bool = False

    def ask_first(self) -> None:
        """Find what is there already under our identifiers, so that only the rest is sent."""
        self._ask(self.resources)
        # a second round, because Provenance can be asked for only once its target is known
        self._ask([item for item in self.resources if item.rank is fhir.Rank.PROVENANCE])

    def _ask(self, resources: Sequence[fhir.Resource]) -> None:
        searches = fhir.searches(resources, self.ledger)
        bodies = [body for search in searches for body in self.talk.search(search)]
        self._take_over(fhir.found(resources, bodies))

    def _take_over(self, copies: Mapping[str, Sequence[Mapping[str, Any]]]) -> None:
        """What is there counts as filed, if it says what we would say."""
        rows = []
        for resource in sorted(self.resources, key=lambda item: item.rank):
            if resource.id in copies and not fhir.is_filed(resource, self.ledger) and not self._anew(resource):
                if self._is_ours_still(resource, copies[resource.id]):
                    continue
                row = self._same(resource, copies[resource.id])
                # at once, so that links of the next ones are compared with the ids that the server gave
                self.ledger[row.resource_id] = row
                rows.append(row)
        self.keep(rows)

    def _is_ours_still(self, resource: fhir.Resource, copies: Sequence[Mapping[str, Any]]) -> bool:
        """Is it what we filed before, so that it only waits to be replaced?"""
        row = self.ledger.get(resource.id)
        return row is not None and row.version is not None and [version_of(copy) for copy in copies] == [row.version]

    def _anew(self, resource: fhir.Resource) -> bool:
        """Ours by id, and to be written once more where it is, because what it links to got another id."""
        filed = self.ledger.get(resource.id)
        return filed is not None and not filed.content_hash

    def _same(self, resource: fhir.Resource, copies: Sequence[Mapping[str, Any]]) -> Filed:
        """The one copy on the server, if it says what we would say; else nothing is touched."""
        if len(copies) > 1:
            raise rejected(HoldReason.RECORD_CONFLICT, f"{len(copies)} copies of one {resource.type}")
        address = fhir.address_of(self.resources, self.link, self.way, self.ledger)
        ours = {key: value for key, value in address.body(resource).items() if key != "id"}
        if found := differences(ours, copies[0]):
            raise rejected(HoldReason.RECORD_CONFLICT, f"{resource.type} differs in {', '.join(found[:5])}")
        return fhir.filed_as(resource, str(copies[0].get("id")), version_of(copies[0]))

    def send_all(self) -> None:
        """Send what the ledger lacks. Raises Stopped at the first part that is not wholly accepted."""
        while part := self._next_part():
            if part.too_large:
                raise rejected(HoldReason.RECORD_REFUSED, "one resource is larger than most_bytes of the settings")
            if faults := self.faults({**part.bundle, "type": "transaction"}):
                hold = Hold(reason=HoldReason.CONTENT_FAULT, detail=f"{len(faults)} faults", findings=faults)
                raise Stopped(Rejected(hold=hold))
            self.report_left_out = self.report_left_out or part.report_left_out
            if self._must_ask(part):
                continue
            try:
                self.keep(self._send(part))
            except _TooMuch:
                self._learn(part)
            except Stopped as stopped:
                if not stopped.ask or self.asked_again:
                    raise
                self.asked_again = True
                self.ask_first()

    def _must_ask(self, part: fhir.Part) -> bool:
        """A Provenance that is neither put under our id nor created on a condition is asked for by its target."""
        first = part.entries[0]
        if self.provenance_asked or first.resource.rank is not fhir.Rank.PROVENANCE or first.conditional:
            return False
        if self.way is not Way.CONDITIONAL:
            return False
        self.provenance_asked = True
        self._ask([first.resource])
        return True

    def _next_part(self) -> fhir.Part | None:
        entries = min(self.most_entries, self.talk.habits.most_entries or self.most_entries)
        size = min(self.most_bytes, self.talk.habits.most_bytes or self.most_bytes)
        return fhir.next_part(
            self.resources,
            self.link,
            self.way,
            self.ledger,
            1 if self.bundles is Bundles.NONE else entries,
            size,
            tags=self.tags,
            batch=self.bundles is Bundles.BATCH,
        )

    def _send(self, part: fhir.Part) -> list[Filed]:
        reply = self._answered(request_of(part, self.talk.base, self.bundles))
        if self.bundles is Bundles.NONE:
            return self._sorted_out(part, [written_to(reply.headers, reply.body, reply.status)], None)
        answer = bundle_answer(reply.body)
        if answer is None:
            raise Stopped(self._rested(of_shape(Shape.NOT_FHIR)))
        if len(answer.entries) != len(part.entries):
            raise Stopped(self._rested(of_shape(Shape.FEWER)))
        return self._sorted_out(part, answer.entries, reply.headers.get("retry-after"))

    def _answered(self, request: Request) -> Reply:
        try:
            reply = self.talk.ask(request)
        except Stopped as stopped:
            raise Stopped(self._rested(stopped.answer)) from None
        if reply.status == 413:
            raise _TooMuch
        if verdict := of_status(reply, datetime.now(UTC), True, self.talk.masked):
            raise Stopped(self._rested(verdict), ask=row_of(reply.status).verdict is Verdict.ASK)
        return reply

    def _sorted_out(self, part: fhir.Part, answers: Sequence[EntryAnswer], after: str | None) -> list[Filed]:
        """Rows for the entries that were accepted; when one was not, those are kept and the attempt ends.

        `after`: the Retry-After of the whole answer.
        """
        rows: list[Filed] = []
        troubles: list[Stopped] = []
        for entry, answer in zip(part.entries, answers, strict=True):
            try:
                rows.append(self._accepted(entry, answer, after))
            except Stopped as stopped:
                troubles.append(stopped)
        if troubles:
            self.keep(rows)
            refusals = [trouble for trouble in troubles if isinstance(trouble.answer, Rejected)]
            ask = bool(refusals) and all(trouble.ask for trouble in refusals)
            raise Stopped(self._rested(together([trouble.answer for trouble in troubles])), ask=ask)
        return rows

    def _accepted(self, entry: fhir.Entry, answer: EntryAnswer, after: str | None) -> Filed:
        server_id = place_of(entry, answer, after, datetime.now(UTC), self.talk.masked)
        if entry.conditional and answer.status == 200:
            return self._existed(entry, server_id)
        return fhir.filed_as(entry.resource, server_id, answer.version)

    def _existed(self, entry: fhir.Entry, server_id: str) -> Filed:
        body = self.talk.read(f"{entry.resource.type}/{server_id}")
        if body is None:
            raise rejected(HoldReason.RECORD_CONFLICT, f"{entry.resource.type} existed already but is not there")
        return self._same(entry.resource, [body])

    def keep(self, rows: Sequence[Filed]) -> None:
        """What the record holds by now goes into the ledger, and is noted at once."""
        if rows:
            self.ledger.update({row.resource_id: row for row in rows})
            self.note(self.way, rows)

    def _learn(self, part: fhir.Part) -> None:
        """A bundle was too large for the server: smaller ones from now on, at last without the printed report."""
        habits = self.talk.habits
        if len(part.entries) > 1:
            habits.most_entries = len(part.entries) // 2
        elif fhir.is_print(part.entries[0].resource) and not part.report_left_out:
            habits.most_bytes = len(part.content) - 1
        else:
            raise rejected(HoldReason.RECORD_REFUSED, "status 413: even one resource alone is too large")

    def _rested(self, answer: TryLater | Rejected) -> TryLater | Rejected:
        """A server that is only searched gets time to show what it stored, before it is asked."""
        if isinstance(answer, TryLater) and answer.outcome_unknown and self.way is Way.SEARCH_FIRST:
            return replace(answer, after=max(answer.after or LAG, LAG))
        return answer


class _TooMuch(Exception):  # noqa: N818
    """413: the request is larger than the server takes."""
