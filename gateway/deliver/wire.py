"""One request over the network, with every bound set: time, size, trust, and no wandering to other hosts."""

import logging
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Any, cast
from urllib.parse import urlsplit

import requests
from requests.adapters import HTTPAdapter
from urllib3.exceptions import ConnectTimeoutError, HTTPError, NameResolutionError, NewConnectionError

from gateway import fhir
from gateway.settings.destination import Destination, on_this_machine

MOST_ANSWER = 32 * 1024 * 1024
"""Bytes of one answer; a page of readings has some hundred kilobytes."""


class Silence(StrEnum):
    """Why no answer came."""

    UNREACHABLE = "unreachable"
    UNTRUSTED = "untrusted"
    OURS = "ours"
    BROKEN = "broken"
    TOO_LATE = "too-late"
    TOO_LARGE = "too-large"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoReply:
    """No usable answer. `sent`: the request may have reached the server, so something may have been stored."""

    silence: Silence
    sent: bool
    detail: str = field(default="", compare=False)
    """more exact words for IT, "" for the usual ones"""


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
        # it logs addresses, and one may hold a person's number where a server can be searched by GET only
        logging.getLogger("urllib3").setLevel(logging.CRITICAL + 1)

    def send(self, request: Request, deadline: float) -> Reply | NoReply:
        """Send once. `deadline` is on the clock of `time.monotonic`; nothing here waits beyond it by much."""
        if urlsplit(request.address).scheme != "https" and not on_this_machine(request.address):
            return NoReply(silence=Silence.UNTRUSTED, sent=False)
        left = deadline - time.monotonic()
        if left <= 0:
            return NoReply(silence=Silence.TOO_LATE, sent=False)
        patience = self._destination.reading_time(len(request.content or b"")).total_seconds()
        try:
            with self._asked(
                request, (min(self._destination.connect_timeout, left), min(patience, left))
            ) as response:
                return _collected(response, deadline)
        except requests.exceptions.SSLError:
            return NoReply(silence=Silence.UNTRUSTED, sent=request.writes)
        except requests.exceptions.ReadTimeout:
            return NoReply(silence=Silence.TOO_LATE, sent=True)
        except (requests.exceptions.ConnectTimeout, requests.exceptions.ProxyError):
            return NoReply(silence=Silence.UNREACHABLE, sent=False)
        except requests.exceptions.ConnectionError as error:
            if _never_connected(error):
                return NoReply(silence=Silence.UNREACHABLE, sent=False)
            return NoReply(silence=Silence.BROKEN, sent=True)
        except (requests.exceptions.RequestException, HTTPError):
            return NoReply(silence=Silence.BROKEN, sent=True)
        except OSError:  # the CA file of the settings is not there or no CA file
            return NoReply(silence=Silence.UNTRUSTED, sent=False)

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
        session = getattr(self._local, "session", None)
        if session is None:
            session = requests.Session()
            session.trust_env = False  # else a CA bundle or proxy of the environment beats the settings
            session.verify = str(self._destination.ca_file) if self._destination.ca_file else True
            if self._destination.proxy:
                session.proxies = {"http": self._destination.proxy, "https": self._destination.proxy}
            adapter = HTTPAdapter(max_retries=0)  # the outbox schedules, with the answer in hand
            session.mount("https://", adapter)
            session.mount("http://", adapter)
            self._local.session = session
        return cast(requests.Session, session)


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


def _never_connected(error: requests.exceptions.ConnectionError) -> bool:
    reason = getattr(error.args[0], "reason", None) if error.args else None
    return isinstance(reason, NewConnectionError | NameResolutionError | ConnectTimeoutError)
