"""One request over the network, with every bound set: time, size, trust, and no wandering to other hosts."""

import logging
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, cast
from urllib.parse import urlsplit

import requests
from urllib3.exceptions import HTTPError

from gateway import fhir
from gateway.deliver.silence import UNSAFE, NoReply, Silence, silence_of
from gateway.deliver.stopped import Stopped
from gateway.deliver.trust import Adapter, Chain, context_for
from gateway.settings.addresses import on_this_machine
from gateway.settings.destination import Destination

MOST_ANSWER = 32 * 1024 * 1024
"""Bytes of one answer; a page of readings has some hundred kilobytes."""


@dataclass(frozen=True, kw_only=True)
class Reply:
    """An answer as it came. Header names are lower case."""

    status: int
    headers: Mapping[str, str]
    content: bytes = field(repr=False)

    @cached_property
    def body(self) -> Any:
        """The JSON value, None when the answer is anything else (HTML, empty, cut off)."""
        try:
            return fhir.parsed(self.content)
        except (ValueError, RecursionError):
            return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What to send. `address` is absolute; `writes`: a lost answer leaves the outcome unknown."""

    method: str
    address: str
    headers: Mapping[str, str] = field(default_factory=dict)
    content: bytes | None = field(default=None, repr=False)
    writes: bool = False


class Wire:
    """Connections to one destination, one session per thread."""

    def __init__(self, destination: Destination, software: str) -> None:
        self._destination = destination
        self._software = software
        self._local = threading.local()
        self.chain: Chain = ()
        """certificates of the server, as it showed them last"""
        # it logs addresses, and one may hold a person's number where a server can be searched by GET only
        logging.getLogger("urllib3").setLevel(logging.CRITICAL + 1)

    def send(self, request: Request, deadline: float) -> Reply | NoReply:
        """Send once. `deadline` is on the clock of `time.monotonic`; nothing here waits beyond it by much."""
        here = on_this_machine(request.address)
        if (urlsplit(request.address).scheme != "https" and not here) or (here and self._destination.proxy):
            return NoReply(silence=Silence.UNTRUSTED, sent=False, detail=UNSAFE)
        left = deadline - time.monotonic()
        if left <= 0:
            return NoReply(silence=Silence.TOO_LATE, sent=False)
        patience = self._destination.reading_time(len(request.content or b"")).total_seconds()
        try:
            with self._asked(
                request, (min(self._destination.connect_timeout, left), min(patience, left))
            ) as response:
                return _collected(response, deadline)
        except (Stopped, HTTPError, OSError) as error:  # the library's own errors are OSErrors too
            return silence_of(error, request.writes)

    @contextmanager
    def _asked(self, request: Request, timeout: tuple[float, float]) -> Iterator[requests.Response]:
        headers = {"Accept": "application/fhir+json", "Accept-Encoding": "identity", "User-Agent": self._software}
        response = self._session().request(
            request.method,
            request.address,
            data=request.content,
            headers=headers | dict(request.headers),
            timeout=timeout,
            allow_redirects=False,
            stream=True,
        )
        try:
            yield response
        finally:
            response.close()

    def _session(self) -> requests.Session:
        """This thread's session; a new one where the files of our certificate were exchanged. Raises Stopped."""
        files = _stamps(self._destination)
        if getattr(self._local, "files", None) != files:
            self._local.session, self._local.files = self._new_session(), files
        return cast(requests.Session, self._local.session)

    def _new_session(self) -> requests.Session:
        session = requests.Session()
        session.trust_env = False  # else a CA bundle or proxy of the environment beats the settings
        session.verify = str(self._destination.ca_file) if self._destination.ca_file else True
        if self._destination.proxy:
            session.proxies = {"http": self._destination.proxy, "https": self._destination.proxy}
        adapter = Adapter(context_for(self._destination), self._saw)
        session.mount("https://", adapter)
        session.mount("http://", adapter)
        return session

    def _saw(self, chain: Chain) -> None:
        self.chain = chain


def _stamps(destination: Destination) -> tuple[object, ...]:
    """What tells that a file was exchanged."""
    files = (destination.certificate_file, destination.certificate_key_file, destination.ca_file)
    found = [file.stat() if file is not None and file.exists() else None for file in files]
    return tuple((each.st_ino, each.st_mtime_ns, each.st_size, each.st_mode) if each else None for each in found)


def _collected(response: requests.Response, deadline: float) -> Reply | NoReply:
    """Read the body piece by piece, so that neither an endless nor a dripping answer holds us."""
    pieces: list[bytes] = []
    size = 0
    while piece := response.raw.read1(65536, decode_content=True):
        pieces.append(piece)
        size += len(piece)
        if size > MOST_ANSWER:
            return NoReply(silence=Silence.TOO_LARGE, sent=True)
        if time.monotonic() > deadline:
            return NoReply(silence=Silence.TOO_LATE, sent=True)
    headers = {name.lower(): value for name, value in response.headers.items()}
    return Reply(status=response.status_code, headers=headers, content=b"".join(pieces))
