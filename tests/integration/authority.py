"""An authorization server of the tests: it checks what RFC 6749 and RFC 7523 ask for."""

import json
import secrets
import time
from base64 import b64decode
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.utils import format_datetime
from http.server import BaseHTTPRequestHandler
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, unquote_plus

import jwt

from tests.integration.listening import Listening
from tests.integration.proxy import Answer, Proxy, Seen


@dataclass
class Tokens:
    """Who may have a token, and which tokens are good. `ahead`: seconds by which its clock is ahead of ours."""

    keys: dict[str, Path] = field(default_factory=dict)
    """public keys (PEM) by kid"""
    secret: str = ""
    life: float = 300
    ahead: float = 0.0
    asked: list[dict[str, str]] = field(default_factory=list)
    headers: list[dict[str, str]] = field(default_factory=list)
    given: dict[str, float] = field(default_factory=dict)

    def now(self) -> float:
        return time.time() + self.ahead

    def ask(self, address: str, headers: dict[str, str], content: bytes) -> tuple[int, dict[str, Any]]:
        form = {name: values[0] for name, values in parse_qs(content.decode(), strict_parsing=True).items()}
        self.asked.append(form)
        self.headers.append(headers)
        if form.get("grant_type") != "client_credentials":
            return 400, {"error": "unsupported_grant_type"}
        if not (self._signed(address, form) or self._secret(headers, form)):
            return 401, {"error": "invalid_client", "error_description": f"we got {content.decode()}"}
        token = secrets.token_urlsafe(24)
        self.given[token] = self.now() + self.life
        return 200, {"access_token": token, "token_type": "Bearer", "expires_in": int(self.life)}

    def good(self, authorization: str) -> bool:
        return self.given.get(authorization.removeprefix("Bearer "), 0.0) > self.now()

    def _signed(self, address: str, form: dict[str, str]) -> bool:
        try:
            kid = jwt.get_unverified_header(form["client_assertion"])["kid"]
            claims = jwt.decode(
                form["client_assertion"],
                self.keys[kid].read_bytes(),
                ["ES384", "RS384"],
                audience=address,
                options={"verify_exp": False, "verify_iat": False},
            )
        except (jwt.PyJWTError, KeyError):
            return False
        # RFC 7523, 3: exp must lie ahead; SMART: not more than five minutes ahead
        return 0 < claims["exp"] - self.now() <= 300

    def _secret(self, headers: dict[str, str], form: dict[str, str]) -> bool:
        shown = (form.get("client_id"), form.get("client_secret"))
        if headers.get("Authorization", "").startswith("Basic "):
            user, _, word = b64decode(headers["Authorization"][6:]).decode().partition(":")
            shown = (unquote_plus(user), unquote_plus(word))
        return bool(self.secret) and shown == ("gateway", self.secret)


class TokenServer(Listening):
    """The listener before `tokens`."""

    def __init__(self, tokens: Tokens) -> None:
        self.tokens = tokens
        super().__init__(self._handler())
        self.address = f"{self.root}/token"

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                content = self.rfile.read(int(self.headers["Content-Length"]))
                status, body = outer.tokens.ask(outer.address, dict(self.headers.items()), content)
                written = json.dumps(body).encode()
                self.send_response(status)
                self.send_header("Content-Type", "application/json")
                self.send_header("Content-Length", str(len(written)))
                self.end_headers()
                self.wfile.write(written)

            def date_time_string(self, timestamp: float | None = None) -> str:
                return format_datetime(datetime.fromtimestamp(outer.tokens.now(), UTC), usegmt=True)

            def log_message(self, *_: object) -> None:
                pass

        return Handler


class Gate(Proxy):
    """A proxy that lets in only those whose Authorization is good; /metadata is open to all."""

    good: Callable[[str], bool] = staticmethod(lambda authorization: False)

    def answer(self, seen: Seen) -> Answer | None:
        named = {name.lower(): value for name, value in seen.headers.items()}
        if not seen.path.startswith("/fhir/metadata") and not self.good(named.get("authorization", "")):
            self.seen.append(seen)
            return Answer.outcome(401, "who are you?")
        return super().answer(seen)

    def forward(self, seen: Seen) -> Answer:
        headers = {name: value for name, value in seen.headers.items() if name.lower() != "authorization"}
        return super().forward(Seen(seen.method, seen.path, headers, seen.content))
