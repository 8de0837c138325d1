"""OAuth2 client credentials: one token for all threads, renewed before it ends, asked for with patience."""

import math
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from urllib.parse import urlencode

from gateway.deliver.allowance import Allowance
from gateway.deliver.outcome import of_silence
from gateway.deliver.proofs import Proof, Proofs
from gateway.deliver.silence import NoReply
from gateway.deliver.skew import skew_words
from gateway.deliver.stopped import CREDENTIALS_PAUSE, Stopped, for_it
from gateway.deliver.wire import Reply, Request, Wire
from gateway.model import TryLater
from gateway.settings.addresses import on_this_machine, safe_address
from gateway.settings.credentials import TokenAuth

LEAST_LIFE = 60.0
"""seconds a token must still live, at most a fifth of its life: it must outlive the request it is sent with"""
OAUTH_ERRORS = frozenset(
    {
        "invalid_request",
        "invalid_client",
        "invalid_grant",
        "unauthorized_client",
        "unsupported_grant_type",
        "invalid_scope",
    }
)
"""The registered error codes (RFC 6749, 5.2)."""


@dataclass(frozen=True, slots=True)
class _Token:
    value: str = field(repr=False)
    renew_at: float


class Tokens:
    """Client credentials by the proofs given. `wall` is for what we sign, in seconds since 1970; lives and rests are
    counted in `ticks`, seconds of a clock that is never set.
    """

    def __init__(
        self,
        auth: TokenAuth,
        proofs: Proofs,
        base: str,
        wire: Wire,
        wall: Callable[[], float] = time.time,
        ticks: Callable[[], float] = time.monotonic,
    ) -> None:
        self._auth = auth
        self._proofs = proofs
        self._base = base
        self._wire = wire
        self._wall = wall
        self._ticks = ticks
        self._lock = threading.Lock()
        self._token: _Token | None = None
        self._token_url: str | None = auth.token_url
        self._quiet_until = -math.inf
        self._allowance = Allowance(auth.failures_an_hour, ticks)
        self.remark = ""
        """what IT should know although a token was given: an older key was needed"""

    def header(self, deadline: float) -> str | None:
        """Bearer header with a token that is still good; asks for one where needed."""
        with self._lock:
            if self._token is None or self._ticks() >= self._token.renew_at:
                self._token = self._new_token(deadline)
            return f"Bearer {self._token.value}"

    def refused(self) -> bool:
        """Forget the token; the next header brings a new one. A refused token is a failed try."""
        with self._lock:
            self._token = None
            self._allowance.failed()
        return True

    def _new_token(self, deadline: float) -> _Token:
        self._rest()
        address = self._token_url or self._discovered(deadline)
        refusal: Reply | None = None
        for number, proof in enumerate(self._proofs(address, int(self._wall()))):
            answer = self._asked(address, proof, deadline)
            if token := _token_in(answer, self._ticks()):
                self._token_url = address
                self.remark = f"the newer key is not accepted yet; {proof.called} still is" if number else ""
                return token
            refusal = refusal or answer
            if _error_in(answer) != "invalid_client":
                break
        raise Stopped(self._no_token(refusal))

    def _rest(self) -> None:
        if (left := self._quiet_until - self._ticks()) > 0:
            why = "the authorization server refused us a short while ago; the work is kept"
            raise Stopped(for_it(why, timedelta(seconds=left)))
        if (left := self._allowance.rest()) > 0:
            why = (
                f"{self._auth.failures_an_hour} tries for a token failed within an hour; the next is in "
                f"{max(1, round(left / 60))} minutes, and the work is kept"
            )
            raise Stopped(for_it(why, timedelta(seconds=left)))

    def _asked(self, address: str, proof: Proof, deadline: float) -> Reply:
        form = {"grant_type": "client_credentials", "scope": self._auth.scope, **proof.form}
        headers = {"Content-Type": "application/x-www-form-urlencoded", "Accept": "application/json", **proof.headers}
        request = Request(method="POST", address=address, headers=headers, content=urlencode(form).encode())
        answer = self._wire.send(request, deadline)
        if isinstance(answer, NoReply):
            self._allowance.failed()
            raise Stopped(of_silence(answer, writes=False))
        return answer

    def _no_token(self, answer: Reply | None) -> TryLater:
        self._token_url = self._auth.token_url
        self._allowance.failed()
        if answer is None:
            return for_it("there is no key to sign with")
        if answer.status == 429 or answer.status >= 500 or answer.status < 400:
            return TryLater(why=f"the authorization server gave no token (status {answer.status})")
        self._quiet_until = self._ticks() + CREDENTIALS_PAUSE.total_seconds()
        said = _error_in(answer) or f"status {answer.status}"
        words = f"the authorization server refused our {self._proofs.kind}: {said}"
        clocks = skew_words(answer.headers.get("date"), datetime.fromtimestamp(self._wall(), UTC))
        return for_it(f"{words}; {clocks}" if clocks else words)

    def _discovered(self, deadline: float) -> str:
        address = f"{self._base}/.well-known/smart-configuration"
        answer = self._wire.send(
            Request(method="GET", address=address, headers={"Accept": "application/json"}), deadline
        )
        if isinstance(answer, NoReply):
            raise Stopped(of_silence(answer, writes=False))
        named = answer.body.get("token_endpoint") if isinstance(answer.body, Mapping) else None
        if answer.status != 200 or not isinstance(named, str):
            raise Stopped(for_it("the server does not say where tokens are given; write auth.token_url"))
        try:
            safe_address(named)
        except ValueError:
            named = ""
        # another machine has no business to send our credentials to this one
        if not named or (on_this_machine(named) and not on_this_machine(self._base)):
            raise Stopped(for_it("the server names a token address that is not safe; write auth.token_url"))
        return named


def _error_in(answer: Reply) -> str:
    """The registered error code; error_description may repeat what we sent, a code cannot."""
    code = answer.body.get("error") if isinstance(answer.body, Mapping) else None
    return code if isinstance(code, str) and code in OAUTH_ERRORS else ""


def _token_in(answer: Reply, now: float) -> _Token | None:
    body = answer.body
    if answer.status != 200 or not isinstance(body, Mapping):
        return None
    value, life = body.get("access_token"), body.get("expires_in", 300)
    if not isinstance(value, str) or not value.isascii() or not value.isprintable() or " " in value:
        return None
    if str(body.get("token_type", "")).lower() != "bearer":
        return None
    seconds = float(life) if isinstance(life, int) and life > 0 else 300.0
    return _Token(value, now + seconds - min(LEAST_LIFE, seconds / 5))
