"""Write the missing resources, part by part, and believe nothing that was not answered entry by entry."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from gateway import fhir
from gateway.deliver.outcome import Stopped, meaning, not_fhir, of_status, rejected, together
from gateway.deliver.talk import JSON, Talk
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
    transaction: bool
    ledger: dict[str, Filed]
    note: Note
    most_entries: int
    most_bytes: int
    faults: Faults
    report_left_out: bool = False

    def ask_first(self) -> None:
        """Find what is there already under our identifiers, so that only the rest is sent."""
        asked: set[fhir.Search] = set()
        # a second round, because Provenance can be asked for only once its target is known
        for _ in range(2):
            searches = [search for search in fhir.searches(self.resources, self.ledger) if search not in asked]
            bodies = [body for search in searches for body in self.talk.search(search)]
            asked.update(searches)
            self._take_over(fhir.found(self.resources, bodies))

    def _take_over(self, copies: Mapping[str, Sequence[Mapping[str, Any]]]) -> None:
        """What is there counts as filed, if it says what we would say."""
        rows = []
        for resource in sorted(self.resources, key=lambda item: item.rank):
            if resource.id in copies and not fhir.is_filed(resource, self.ledger):
                row = self._same(resource, copies[resource.id])
                # at once, so that links of the next ones are compared with the ids that the server gave
                self.ledger[row.resource_id] = row
                rows.append(row)
        self._keep(rows)

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
            if faults := self.faults(part.bundle):
                hold = Hold(reason=HoldReason.CONTENT_FAULT, detail=f"{len(faults)} faults", findings=faults)
                raise Stopped(Rejected(hold=hold))
            self.report_left_out = self.report_left_out or part.report_left_out
            try:
                self._keep(self._send(part))
            except _TooMuch:
                self._learn(part)

    def _next_part(self) -> fhir.Part | None:
        entries = min(self.most_entries, self.talk.habits.most_entries or self.most_entries)
        size = min(self.most_bytes, self.talk.habits.most_bytes or self.most_bytes)
        return fhir.next_part(
            self.resources, self.link, self.way, self.ledger, entries if self.transaction else 1, size
        )

    def _send(self, part: fhir.Part) -> list[Filed]:
        return self._send_bundle(part) if self.transaction else self._send_single(part)

    def _send_bundle(self, part: fhir.Part) -> list[Filed]:
        request = Request(method="POST", address=self.talk.base, headers=JSON, content=part.content, writes=True)
        reply = self._answered(request)
        answer = bundle_answer(reply.body)
        if answer is None:
            raise Stopped(self._rested(not_fhir(writes=True)))
        if len(answer.entries) != len(part.entries):
            why = f"{len(answer.entries)} answers came to {len(part.entries)} entries"
            raise Stopped(self._rested(TryLater(why=why, outcome_unknown=True)))
        return self._sorted_out(part, answer.entries)

    def _send_single(self, part: fhir.Part) -> list[Filed]:
        entry = part.entries[0]
        asked = part.bundle["entry"][0]["request"]
        headers = dict(JSON)
        if "ifMatch" in asked:
            headers["If-Match"] = asked["ifMatch"]
        if "ifNoneExist" in asked:
            headers["If-None-Exist"] = asked["ifNoneExist"]
        request = Request(
            method=entry.method,
            address=f"{self.talk.base}/{asked['url']}",
            headers=headers,
            content=fhir.written(entry.body),
            writes=True,
        )
        reply = self._answered(request)
        return self._sorted_out(part, [written_to(reply.headers, reply.body, reply.status)])

    def _answered(self, request: Request) -> Reply:
        try:
            reply = self.talk.ask(request)
        except Stopped as stopped:
            raise Stopped(self._rested(stopped.answer)) from None
        if reply.status == 413:
            raise _TooMuch
        if verdict := of_status(reply, datetime.now(UTC), True, self.talk.masked):
            raise Stopped(self._rested(verdict))
        return reply

    def _sorted_out(self, part: fhir.Part, answers: Sequence[EntryAnswer]) -> list[Filed]:
        """Rows for the entries that were accepted; when one was not, those are kept and the attempt ends."""
        rows: list[Filed] = []
        troubles: list[TryLater | Rejected] = []
        for entry, answer in zip(part.entries, answers, strict=True):
            try:
                rows.append(self._accepted(entry, answer))
            except Stopped as stopped:
                troubles.append(stopped.answer)
        if troubles:
            self._keep(rows)
            raise Stopped(self._rested(together(troubles)))
        return rows

    def _accepted(self, entry: fhir.Entry, answer: EntryAnswer) -> Filed:
        if answer.status is None:
            raise Stopped(TryLater(why="an entry came back without a status", outcome_unknown=True))
        if verdict := meaning(answer.status, answer.outcome, None, True, self.talk.masked):
            raise Stopped(verdict)
        if answer.status not in (200, 201):
            raise Stopped(TryLater(why=f"an entry came back with status {answer.status}", outcome_unknown=True))
        server_id = answer.server_id or entry.server_id
        if server_id is None:
            raise Stopped(TryLater(why="the server does not say where it stored an entry", outcome_unknown=True))
        if entry.conditional and answer.status == 200:
            return self._existed(entry, server_id)
        return fhir.filed_as(entry.resource, server_id, answer.version)

    def _existed(self, entry: fhir.Entry, server_id: str) -> Filed:
        body = self.talk.read(f"{entry.resource.type}/{server_id}")
        if body is None:
            raise rejected(HoldReason.RECORD_CONFLICT, f"{entry.resource.type} existed already but is not there")
        return self._same(entry.resource, [body])

    def _keep(self, rows: Sequence[Filed]) -> None:
        if rows:
            self.ledger.update({row.resource_id: row for row in rows})
            self.note(self.way, rows)

    def _learn(self, part: fhir.Part) -> None:
        """A bundle was too large for the server: smaller ones from now on, at last without the printed report."""
        habits = self.talk.habits
        if len(part.entries) > 1:
            habits.most_entries = len(part.entries) // 2
        elif part.entries[0].resource.rank is fhir.Rank.REPORT and not part.report_left_out:
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
