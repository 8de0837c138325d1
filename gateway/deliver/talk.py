"""Asking one FHIR server: credentials, once more after 401, searches over all pages, what each answer means."""

import time
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlencode, urlsplit

from gateway import fhir
from gateway.deliver.auth import Credentials
from gateway.deliver.outcome import Shape, of_shape, of_silence, of_status
from gateway.deliver.silence import NoReply
from gateway.deliver.skew import skew_words
from gateway.deliver.stopped import Stopped, for_it, rejected
from gateway.deliver.wire import Reply, Request, Wire
from gateway.fhir.heard import searchset
from gateway.model import HoldReason, Person

FORM = {"Content-Type": "application/x-www-form-urlencoded"}
STRICT = {"Prefer": "handling=strict", "Cache-Control": "no-cache"}
MOST_PAGES = 50
NEVER_THERE = frozenset({404})
GONE = frozenset({404, 410})
"""never there, or deleted"""
NO_POST_SEARCH = frozenset({404, 405, 415, 501})
BIRTH_DATE_FORMS = ("%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y", "%m/%d/%Y", "%Y%m%d", "%d-%m-%Y")


@dataclass(slots=True)
class Habits:
    """What was learnt about a server while talking to it; shared by all its deliveries."""

    post_search: bool = True
    most_entries: int | None = None
    most_bytes: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Talk:
    """One conversation for one delivery: it ends at `deadline` and never repeats the words in `masked`."""

    base: str
    wire: Wire
    credentials: Credentials
    habits: Habits
    deadline: float
    masked: Sequence[str] = field(default=(), repr=False)

    def ask(self, request: Request) -> Reply:
        """The whole answer, with whatever status it has. Raises Stopped when none came or credentials failed."""
        reply = self._once(request)
        if reply.status == 401 and self.credentials.refused():
            reply = self._once(request)
        if reply.status == 401 and (words := skew_words(reply.headers.get("date"), datetime.now(UTC))):
            raise Stopped(for_it(f"the server does not accept our credentials (401); {words}"))
        return reply

    def good(self, request: Request) -> Reply:
        """The answer when its status is 2xx; raises Stopped with what the table of outcomes says otherwise."""
        reply = self.ask(request)
        if verdict := of_status(reply, datetime.now(UTC), request.writes, self.masked):
            raise Stopped(verdict)
        return reply

    def open_to_all(self, request: Request) -> Reply:
        """A good answer to a question that needs no credentials, so none are shown. Raises Stopped."""
        answer = self.wire.send(request, self.deadline)
        if isinstance(answer, NoReply):
            raise Stopped(of_silence(answer, writes=False))
        if answer.status in (401, 403):  # some servers tell nothing to strangers
            return self.good(request)
        if verdict := of_status(answer, datetime.now(UTC), False, self.masked):
            raise Stopped(verdict)
        return answer

    def read(self, path: str, gone: Container[int] = NEVER_THERE) -> Mapping[str, Any] | None:
        """One resource, None where the status is among `gone`. A deleted one (410) is a conflict otherwise."""
        request = Request(method="GET", address=f"{self.base}/{path}", headers=STRICT)
        reply = self.ask(request)
        if reply.status in gone:
            return None
        if verdict := of_status(reply, datetime.now(UTC), False, self.masked):
            raise Stopped(verdict)
        if not isinstance(reply.body, Mapping) or "resourceType" not in reply.body:
            raise Stopped(of_shape(Shape.NOT_FHIR, writes=False))
        return reply.body

    def search(self, search: fhir.Search) -> list[Mapping[str, Any]]:
        """Every match, over all pages; nothing personal stands in an address where the server allows POST."""
        page = self._first_page(search)
        bodies: list[Mapping[str, Any]] = []
        for _ in range(MOST_PAGES):
            result = searchset(page.body)
            if result is None:
                raise Stopped(of_shape(Shape.NOT_FHIR, writes=False))
            if result.ignored or not _kept(result.self_link, search):
                raise rejected(HoldReason.RECORD_UNSUITABLE, f"it ignores a search parameter of {search.type}")
            bodies += [body for body in result.matches if body.get("resourceType") == search.type]
            if result.next_link is None:
                return bodies
            page = self.good(Request(method="GET", address=self._own(result.next_link), headers=STRICT))
        raise rejected(HoldReason.RECORD_UNSUITABLE, f"a search for {search.type} never ends")

    def _first_page(self, search: fhir.Search) -> Reply:
        query = urlencode(search.parameters)
        if self.habits.post_search:
            address = f"{self.base}/{search.type}/_search"
            request = Request(method="POST", address=address, headers=STRICT | FORM, content=query.encode())
            reply = self.ask(request)
            if reply.status not in NO_POST_SEARCH:
                if verdict := of_status(reply, datetime.now(UTC), False, self.masked):
                    raise Stopped(verdict)
                return reply
        reply = self.good(Request(method="GET", address=f"{self.base}/{search.type}?{query}", headers=STRICT))
        self.habits.post_search = False
        return reply

    def _once(self, request: Request) -> Reply:
        header = self.credentials.header(self.deadline)
        if header is not None:
            request = replace(request, headers={**request.headers, "Authorization": header})
        answer = self.wire.send(request, self.deadline)
        if isinstance(answer, NoReply):
            raise Stopped(of_silence(answer, request.writes))
        return answer

    def _own(self, link: str) -> str:
        """The link of a next page, if it leads to this very server: credentials go nowhere else."""
        ours, theirs = urlsplit(self.base), urlsplit(link)
        if (ours.scheme, ours.netloc) != (theirs.scheme, theirs.netloc):
            raise rejected(HoldReason.RECORD_UNSUITABLE, "its next pages lie at another address than url")
        return link

    def time_left(self) -> float:
        """Seconds until this conversation must be over."""
        return self.deadline - time.monotonic()


def _kept(self_link: str | None, search: fhir.Search) -> bool:
    """A server that shows how it understood a search must still show each parameter. No link: nothing shown."""
    if self_link is None or "?" not in self_link:
        return True
    return all(f"{name}=" in self_link for name, _ in search.parameters)


def escaped(value: str) -> str:
    """Separators of search values are escaped (FHIR R4 search, "escaping search parameters")."""
    for mark in "\\$,|":
        value = value.replace(mark, "\\" + mark)
    return value


def words_of(person: Person) -> tuple[str, ...]:
    """Words that no answer may repeat: number, names, and the birth date in the usual ways of writing."""
    words = [person.identifier.value if person.identifier else None, person.family_name, person.given_name]
    if person.birth_date:
        words += [person.birth_date.strftime(form) for form in BIRTH_DATE_FORMS]
    return tuple(word for word in words if word)
