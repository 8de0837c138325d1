"""A proxy before the record server that makes it as strict, as poor and as unreliable as real servers are.

`poor` takes abilities away (and out of /metadata), `strict` refuses what stricter servers refuse, `faults` are
played once each, in order, on the first request that they fit. `seen` keeps what was asked.
"""

import json
import re
import socket
import ssl
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from http.client import HTTPConnection
from http.server import BaseHTTPRequestHandler
from typing import Any
from urllib.parse import urlsplit

from tests.integration.listening import Listening

UPDATE_CREATE, CONDITIONAL, TRANSACTION, BATCH, TAG, POST_SEARCH, STRICT_SEARCH = (
    "update-create",
    "conditional",
    "transaction",
    "batch",
    "tag",
    "post-search",
    "strict-search",
)


@dataclass(frozen=True)
class Seen:
    method: str
    path: str
    headers: Mapping[str, str]
    content: bytes

    @property
    def body(self) -> Any:
        return json.loads(self.content)


@dataclass
class Answer:
    status: int
    headers: dict[str, str] = field(default_factory=dict)
    content: bytes = b""
    half: bool = False
    """the connection breaks in the middle of the content"""

    @classmethod
    def outcome(cls, status: int, words: str, **headers: str) -> "Answer":
        body = {"resourceType": "OperationOutcome"}
        body["issue"] = [{"severity": "error", "code": "processing", "diagnostics": words}]  # type: ignore[assignment]
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        return cls(status, {"Content-Type": "application/fhir+json", **named}, json.dumps(body).encode())


Play = Callable[[Seen, Callable[[Seen], Answer]], Answer | None]
"""Gets the request and the way to the server; None closes the connection without an answer."""


@dataclass
class Fault:
    play: Play
    method: str = "POST"
    path: str = r"/fhir/?$"
    times: int = 1
    skip: int = 0

    def fits(self, seen: Seen) -> bool:
        return self.times > 0 and seen.method == self.method and re.search(self.path, seen.path) is not None


# plays


def say(status: int, words: str = "as the test wants it", **headers: str) -> Play:
    return lambda seen, ask: Answer.outcome(status, words, **headers)


def say_raw(status: int, content: bytes, kind: str = "text/html") -> Play:
    return lambda seen, ask: Answer(status, {"Content-Type": kind}, content)


def drop_after(seen: Seen, ask: Callable[[Seen], Answer]) -> None:
    """The server stores it, the answer is lost."""
    ask(seen)


def half_after(seen: Seen, ask: Callable[[Seen], Answer]) -> Answer:
    """The server stores it, half of the answer is lost."""
    return replace(ask(seen), half=True)


def drop_before(seen: Seen, ask: Callable[[Seen], Answer]) -> None:
    """The connection breaks before the server hears of it."""


def slow_after(seconds: float) -> Play:
    def play(seen: Seen, ask: Callable[[Seen], Answer]) -> Answer:
        answer = ask(seen)
        time.sleep(seconds)
        return answer

    return play


def changed(change: Callable[[Any], Any]) -> Play:
    """The server's answer with its JSON changed."""

    def play(seen: Seen, ask: Callable[[Seen], Answer]) -> Answer:
        answer = ask(seen)
        answer.content = json.dumps(change(json.loads(answer.content))).encode()
        return answer

    return play


def entry_fails(*failing: tuple[int, int], stored: bool = False, **response: Any) -> Play:
    """A good status, but the entries at these places were answered with these statuses; `stored`: all the same they
    were done.
    """

    def play(seen: Seen, ask: Callable[[Seen], Answer]) -> Answer:
        sent = seen.body["entry"]
        places = {place % len(sent): status for place, status in failing}
        kept = [entry for place, entry in enumerate(sent) if stored or place not in places]
        answer = ask(replace(seen, content=json.dumps({**seen.body, "entry": kept}).encode()))
        body = json.loads(answer.content)
        done = iter(body["entry"])
        if stored:
            body["entry"] = [_failed(places[n], response) if n in places else e for n, e in enumerate(done)]
        else:
            body["entry"] = [_failed(places[n], response) if n in places else next(done) for n in range(len(sent))]
        answer.content = json.dumps({**body, "type": "batch-response"}).encode()
        return answer

    return play


def _failed(status: int, response: Mapping[str, Any]) -> dict[str, Any]:
    said = json.loads(Answer.outcome(status, f"as the test wants it: {status}").content)
    return {"response": {"status": f"{status} Said", "outcome": said, **response}}


def as_batch(seen: Seen, ask: Callable[[Seen], Answer]) -> Answer:
    """Transactions quietly run as batches (a public report names such a server)."""
    return ask(Seen(seen.method, seen.path, seen.headers, json.dumps({**seen.body, "type": "batch"}).encode()))


class Proxy(Listening):
    """One proxy before one server, on a port of its own."""

    def __init__(
        self,
        upstream: str,
        poor: frozenset[str] = frozenset(),
        strict: bool = True,
        tls: ssl.SSLContext | None = None,
    ) -> None:
        self._upstream = urlsplit(upstream)
        self._poor = poor
        self._strict = strict
        self.most_entries: int | None = None
        self.most_bytes: int | None = None
        self.undeclared: tuple[str, ...] = ()
        """types that the server behind takes without saying so; here it says so"""
        self.hides: Callable[[dict[str, Any]], bool] = lambda resource: False
        self.faults: list[Fault] = []
        self.seen: list[Seen] = []
        self._known: set[str] = set()
        super().__init__(self._handler(), tls)
        self.base = f"{self.root}/fhir"

    def posts(self) -> list[Seen]:
        """Bundles that were sent."""
        return [seen for seen in self.seen if seen.method == "POST" and seen.path.rstrip("/") == "/fhir"]

    # the way of one request

    def answer(self, seen: Seen) -> Answer | None:
        self.seen.append(seen)
        for fault in self.faults:
            if fault.fits(seen):
                if fault.skip > 0:
                    fault.skip -= 1
                    continue
                fault.times -= 1
                return fault.play(seen, self._decent)
        return self._decent(seen)

    def _decent(self, seen: Seen) -> Answer:
        if (refusal := self._refusal(seen)) is not None:
            return refusal
        if STRICT_SEARCH in self._poor:
            headers = {name: value for name, value in seen.headers.items() if name.lower() != "prefer"}
            seen = Seen(seen.method, seen.path, headers, seen.content)
        answer = self.forward(seen)
        if seen.path.startswith("/fhir/metadata"):
            answer.content = json.dumps(self._poorer(json.loads(answer.content))).encode()
        elif answer.status == 200 and answer.content.startswith(b'{"resourceType":"Bundle"'):
            answer.content = json.dumps(self._lagging(json.loads(answer.content))).encode()
        return answer

    def forward(self, seen: Seen) -> Answer:
        connection = HTTPConnection(self._upstream.hostname or "", self._upstream.port, timeout=60)
        kept = {
            name: value
            for name, value in seen.headers.items()
            if name.lower() not in ("host", "connection", "content-length")
        }
        try:
            connection.request(seen.method, seen.path, seen.content or None, kept)
            response = connection.getresponse()
            content = response.read()
            headers = {
                name: value
                for name, value in response.getheaders()
                if name.lower() not in ("content-length", "transfer-encoding", "connection", "date", "server")
            }
        finally:
            connection.close()
        upstream = f"{self._upstream.scheme}://{self._upstream.netloc}"
        headers = {name: value.replace(upstream, self.root) for name, value in headers.items()}
        return Answer(response.status, headers, content.replace(upstream.encode(), self.root.encode()))

    def _poorer(self, statement: dict[str, Any]) -> dict[str, Any]:
        rest = statement["rest"][0]
        rest["resource"] += [{"type": kind, "updateCreate": True, "searchParam": []} for kind in self.undeclared]
        for resource in rest["resource"]:
            if UPDATE_CREATE in self._poor:
                resource["updateCreate"] = False
            if CONDITIONAL in self._poor:
                resource["conditionalCreate"] = False
            if TAG in self._poor:
                resource["searchParam"] = [item for item in resource["searchParam"] if item["name"] != "_tag"]
        rest["interaction"] = [item for item in rest["interaction"] if item["code"] not in self._poor]
        return statement

    def _lagging(self, bundle: dict[str, Any]) -> dict[str, Any]:
        if bundle.get("type") != "searchset":
            return bundle
        entries = [entry for entry in bundle.get("entry", []) if not self.hides(entry["resource"])]
        return {**bundle, "entry": entries, "total": len(entries)}

    # what stricter servers refuse

    def _refusal(self, seen: Seen) -> Answer | None:
        path = seen.path.split("?")[0].rstrip("/")
        if POST_SEARCH in self._poor and path.endswith("/_search"):
            return Answer.outcome(405, "searches by POST are not supported")
        if TAG in self._poor and b"_tag=" in seen.path.encode() + seen.content and "Provenance" in path:
            return Answer.outcome(400, "_tag is not supported")
        if seen.method == "POST" and path == "/fhir":
            return self._bundle_refusal(seen)
        if seen.method in ("POST", "PUT") and path.count("/") in (2, 3) and not path.endswith("_search"):
            return self._single_refusal(seen, path)
        return None

    def _bundle_refusal(self, seen: Seen) -> Answer | None:
        bundle = seen.body
        entries = bundle.get("entry", [])
        if bundle["type"] in self._poor:
            return Answer.outcome(501, "this is not supported")
        if self.most_entries is not None and len(entries) > self.most_entries:
            return Answer.outcome(413, f"at most {self.most_entries} entries")
        if self.most_bytes is not None and len(seen.content) > self.most_bytes:
            return Answer.outcome(413, f"at most {self.most_bytes} bytes")
        if not self._strict:
            return None
        urls = [entry["request"]["url"] for entry in entries if entry["request"]["method"] == "PUT"]
        if len(urls) != len(set(urls)):
            return Answer.outcome(400, "the same resource stands twice in the bundle")
        # the entries of a batch know nothing of each other
        here = {entry.get("fullUrl") for entry in entries} | set(urls) if TRANSACTION not in self._poor else set()
        for entry in entries:
            request = entry["request"]
            refusal = self._write_refusal(
                request["method"], request["url"], entry["resource"], request.get("ifNoneExist"), here
            )
            if refusal:
                return refusal
        return None

    def _single_refusal(self, seen: Seen, path: str) -> Answer | None:
        condition = next((value for name, value in seen.headers.items() if name.lower() == "if-none-exist"), None)
        return self._write_refusal(seen.method, path.removeprefix("/fhir/"), seen.body, condition, set())

    def _write_refusal(
        self, method: str, url: str, resource: dict[str, Any], conditional: str | None, here: set[str | None]
    ) -> Answer | None:
        if method == "POST" and "id" in resource:
            return Answer.outcome(409, "a new resource may not bring an id")
        if conditional and CONDITIONAL in self._poor:
            return Answer.outcome(400, "conditional create is not supported")
        if conditional and TAG in self._poor and "_tag" in conditional:
            return Answer.outcome(400, "_tag is not supported")
        if method == "PUT":
            held = self._held(url)
            if held is None and UPDATE_CREATE in self._poor:
                return Answer.outcome(404, "nothing to update; ids are given by the server")
            if held and held.get("subject") != resource.get("subject"):
                return Answer.outcome(422, "the subject of a resource may not change")
        for reference in _references(resource):
            if "?" in reference:
                return Answer.outcome(400, "conditional references are not supported")
            if reference not in here and (reference.startswith("urn:") or not self._there(reference)):
                return Answer.outcome(422, f"there is no {reference}")
        return None

    def _there(self, reference: str) -> bool:
        """Does the server hold it? What was there once is not asked about again."""
        if reference not in self._known and self._held(reference) is not None:
            self._known.add(reference)
        return reference in self._known

    def _held(self, url: str) -> dict[str, Any] | None:
        headers = {"Accept": "application/fhir+json", **self._authorization()}
        answer = self.forward(Seen("GET", f"/fhir/{url}", headers, b""))
        return json.loads(answer.content) if answer.status == 200 else None

    def _authorization(self) -> dict[str, str]:
        return {name: value for name, value in self.seen[-1].headers.items() if name.lower() == "authorization"}

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        proxy = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def _serve(self) -> None:
                content = self.rfile.read(int(self.headers.get("Content-Length", 0)))
                answer = proxy.answer(Seen(self.command, self.path, dict(self.headers.items()), content))
                if answer is None:
                    self.close_connection = True
                    self.connection.shutdown(socket.SHUT_RDWR)
                    return
                self.send_response(answer.status)
                for name, value in answer.headers.items():
                    self.send_header(name, value)
                self.send_header("Content-Length", str(len(answer.content)))
                self.end_headers()
                if answer.half:
                    self.wfile.write(answer.content[: len(answer.content) // 2])
                    self.close_connection = True
                    self.connection.shutdown(socket.SHUT_RDWR)
                    return
                self.wfile.write(answer.content)

            do_GET = do_POST = do_PUT = do_DELETE = _serve  # noqa: N815  (the names that http.server calls)

            def log_message(self, *_: object) -> None:
                pass

        return Handler


def _references(value: Any) -> list[str]:
    if isinstance(value, dict):
        own = [value["reference"]] if isinstance(value.get("reference"), str) else []
        return own + [found for item in value.values() for found in _references(item)]
    if isinstance(value, list):
        return [found for item in value for found in _references(item)]
    return []
