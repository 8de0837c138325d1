"""One destination: where results go, what is filed there, and how we show who we are.

A destination never holds a secret. It names the *file* of a token or key; `gateway.deliver` reads that file at
the moment of use.
"""

import ipaddress
from datetime import timedelta
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Literal
from urllib.parse import urlsplit

from pydantic import Field, field_validator, model_validator

from gateway.mapping.parse import Declared
from gateway.settings.choices import Choices


class Match(StrEnum):
    """What must agree before a person on the server is taken for the person of the recording."""

    IDENTIFIER = "identifier"
    """the number alone; a birth date that is there on both sides must still not contradict"""
    BIRTH_DATE = "identifier-and-birth-date"
    NAME = "identifier-birth-date-and-name"


class NoAuth(Declared):
    """No credentials; accepted for a server on this very machine only."""

    kind: Literal["none"] = "none"


class BearerAuth(Declared):
    """A fixed token in a file, read again when the server refuses it."""

    kind: Literal["bearer"]
    token_file: Path


class PrivateKeyAuth(Declared):
    """OAuth2 client credentials with a signed assertion (SMART Backend Services, `private_key_jwt`).

    `key_file`: private key, PEM, mode 0600. Without `token_url` the server is asked for it at
    `.well-known/smart-configuration`. `scope`: least rights that filing needs.
    """

    kind: Literal["private-key-jwt"]
    client_id: str = Field(min_length=1)
    key_file: Path
    key_id: str = Field(min_length=1)
    algorithm: Literal["ES384", "RS384"] = "ES384"
    token_url: str | None = None
    scope: str = (
        "system/Patient.rs system/Observation.crus system/DiagnosticReport.crus system/DocumentReference.crus "
        "system/Device.crus system/Provenance.crs"
    )

    @field_validator("token_url")
    @classmethod
    def _safe_address(cls, value: str | None) -> str | None:
        if value is not None:
            safe_address(value)
        return value  # as written: the assertion's audience must equal it letter for letter


Auth = Annotated[NoAuth | BearerAuth | PrivateKeyAuth, Field(discriminator="kind")]


class Destination(Choices):
    """A record server and this site's choices for it.

    `connect_timeout` and `read_timeout` are seconds; the read time-out is for a small request and
    grows with what is sent. `most_entries` and `most_bytes` bound one request bundle.
    """

    url: str
    match: Match = Match.BIRTH_DATE
    auth: Auth = Field(default_factory=NoAuth)
    ca_file: Path | None = None
    proxy: str | None = None
    connect_timeout: float = Field(default=10, gt=0, le=60)
    read_timeout: float = Field(default=60, gt=0, le=240)
    most_entries: int = Field(default=100, ge=1)
    most_bytes: int = Field(default=1_000_000, ge=10_000)

    @field_validator("url")
    @classmethod
    def _safe_url(cls, value: str) -> str:
        return safe_address(value)

    @field_validator("proxy")
    @classmethod
    def _proxy_without_password(cls, value: str | None) -> str | None:
        if value is None:
            return None
        parts = urlsplit(value)
        if parts.scheme not in ("http", "https") or not parts.hostname:
            raise ValueError("write the proxy as http://host:port")
        if parts.username or parts.password:
            raise ValueError("a proxy with a password in its address is not supported; leave the password out")
        return value

    @model_validator(mode="after")
    def _credentials_needed(self) -> "Destination":
        if isinstance(self.auth, NoAuth) and not on_this_machine(self.url):
            raise ValueError(
                'a server on another machine needs credentials: write an auth table with kind = "private-key-jwt" '
                '(or "bearer")'
            )
        return self

    @model_validator(mode="after")
    def _no_proxy_for_this_machine(self) -> "Destination":
        token_url = self.auth.token_url if isinstance(self.auth, PrivateKeyAuth) else None
        for name, url in (("url", self.url), ("token_url", token_url)):
            if self.proxy is not None and url is not None and on_this_machine(url):
                raise ValueError(f"{name} is on this machine, so nothing may go through a proxy: leave proxy out")
        return self

    def reading_time(self, size: int) -> timedelta:
        """How long to wait for the answer to a request of `size` bytes: a second more for every 20 kB."""
        return timedelta(seconds=self.read_timeout + size / 20_000)


def safe_address(value: str) -> str:
    """The address without a trailing slash. Raises ValueError, in words that say what to write instead."""
    try:
        parts = urlsplit(value)
        host, _ = parts.hostname, parts.port
    except ValueError:
        raise ValueError("this is not an address; write https://host/path") from None
    if parts.scheme not in ("https", "http") or not host:
        raise ValueError("write the whole address, beginning with https://")
    if parts.username or parts.password:
        raise ValueError("leave user name and password out of the address; credentials belong into auth")
    if parts.query or parts.fragment:
        raise ValueError("leave out everything from ? or # on; write the base address of the server")
    if parts.scheme == "http" and not on_this_machine(value):
        raise ValueError(
            "write https:// instead of http://; unencrypted http is only for a server on this machine (127.0.0.1)"
        )
    return value.rstrip("/")


def on_this_machine(url: str) -> bool:
    """Is this the address of the very machine we run on (loopback)?"""
    host = urlsplit(url).hostname or ""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
