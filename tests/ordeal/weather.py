"""A fault proxy before the record server whose faults are switched at random: the weather."""

import random
import time
from collections import Counter
from collections.abc import Callable
from threading import Lock
from typing import Any

from tests.integration.proxy import (
    Answer,
    Play,
    Proxy,
    Seen,
    as_batch,
    changed,
    drop_after,
    drop_before,
    say,
    say_raw,
)

SLOW = 0.7
HANG = 2.5
"""Longer than the read time-out that the ordeal's settings give."""


def hang_before(seen: Seen, ask: Callable[[Seen], Answer]) -> None:
    time.sleep(HANG)


def hang_after(seen: Seen, ask: Callable[[Seen], Answer]) -> None:
    ask(seen)
    time.sleep(HANG)


def slow(seen: Seen, ask: Callable[[Seen], Answer]) -> Answer:
    answer = ask(seen)
    time.sleep(SLOW)
    return answer


def half(seen: Seen, ask: Callable[[Seen], Answer]) -> Answer:
    """The server stores it; of its answer only the first half arrives."""
    answer = ask(seen)
    answer.content = answer.content[: len(answer.content) // 2]
    return answer


def empty(seen: Seen, ask: Callable[[Seen], Answer]) -> Answer:
    return Answer(ask(seen).status, {}, b"")


def _failed_entry(body: Any) -> Any:
    if body.get("entry"):
        body["entry"][-1] = {"response": {"status": "500 Internal Server Error"}}
    return body


def _fewer(body: Any) -> Any:
    return {**body, "entry": body.get("entry", [])[:-1]}


KINDS: dict[str, Play] = {
    "answer lost": drop_after,
    "request lost": drop_before,
    "hangs before": hang_before,
    "hangs after": hang_after,
    "slow": slow,
    "half an answer": half,
    "empty answer": empty,
    "an entry failed": changed(_failed_entry),
    "fewer entries": changed(_fewer),
    "runs as batch": as_batch,
    "400": say(400),
    "401": say(401),
    "404": say(404),
    "409": say(409),
    "412": say(412),
    "413": say(413),
    "422": say(422),
    "429": say(429, Retry_After="1"),
    "500": say(500),
    "502 as HTML": say_raw(502, b"<html><body>Bad gateway</body></html>"),
    "503": say(503, Retry_After="2"),
    "200 as HTML": say_raw(200, b"<html><body>Log in</body></html>"),
    "redirect": say(307, Location="https://elsewhere.invalid/fhir"),
}
OWN_ANSWER_ONLY = frozenset({"an entry failed", "fewer entries", "runs as batch"})
"""Make sense for a bundle only."""


class Weather(Proxy):
    """`change` draws the next weather; `clear_up` ends all faults. Nothing that was asked is kept."""

    def __init__(self, upstream: str, chance: random.Random, poor: frozenset[str] = frozenset()) -> None:
        super().__init__(upstream, poor, strict=False)
        self._server.handle_error = lambda request, client_address: None  # type: ignore[method-assign]  # it was killed
        self._chance = chance
        self._kind: str | None = None
        self._share = 0.0
        self._counting = Lock()
        self.played: Counter[str] = Counter()

    def change(self) -> None:
        """Clear six times in ten; otherwise one kind of fault for a share of the requests."""
        self._share = self._chance.choice((0.1, 0.3, 0.7))
        self._kind = self._chance.choice(list(KINDS)) if self._chance.random() < 0.4 else None

    def clear_up(self) -> None:
        self._kind = None

    def answer(self, seen: Seen) -> Answer | None:
        kind = self._kind
        bundle = seen.method == "POST" and seen.path.rstrip("/") == "/fhir"
        with self._counting:
            hit = kind is not None and self._chance.random() < self._share
        if kind is None or not hit or (kind in OWN_ANSWER_ONLY and not bundle):
            return self._reached(seen, self._decent)
        with self._counting:
            self.played[kind] += 1
        return self._reached(seen, lambda asked: KINDS[kind](asked, self._decent))

    @staticmethod
    def _reached(seen: Seen, ask: Callable[[Seen], Answer | None]) -> Answer | None:
        """While the server restarts the connection breaks, as it would without a proxy."""
        try:
            return ask(seen)
        except Exception:  # whatever breaks here breaks for the client too
            return None
