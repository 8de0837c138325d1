"""One destination: where results go, what is filed there, and how we show who we are.

A destination never holds a secret. It names the *file* of a token or key; `gateway.deliver` reads that file at
the moment of use.
"""

from datetime import timedelta
from enum import StrEnum
from pathlib import Path
from urllib.parse import urlsplit

from pydantic import Field, field_validator, model_validator

from gateway.model import PersonChoice
from gateway.settings.addresses import on_this_machine, safe_address
from gateway.settings.choices import Choices
from gateway.settings.credentials import Auth, CertificateAuth, NoAuth, TokenAuth
from gateway.settings.ordering import OrderChoice


class Match(StrEnum):
    """What must agree before a person on the server is taken for the person of the recording."""

    IDENTIFIER = "identifier"
    """the number alone; a birth date that is there on both sides must still not contradict"""
    BIRTH_DATE = "identifier-and-birth-date"
    NAME = "identifier-birth-date-and-name"


class Destination(Choices):
    """A record server and this site's choices for it.

    `connect_timeout` and `read_timeout` are seconds; the read time-out is for a small request and
    grows with what is sent. `most_entries` and `most_bytes` bound one request bundle.
    """

    url: str
    match: Match = Match.BIRTH_DATE
    orders: OrderChoice = OrderChoice()
    auth: Auth = Field(default_factory=NoAuth)
    ca_file: Path | None = None
    certificate_file: Path | None = None
    certificate_key_file: Path | None = None
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
                "(or another kind that deploy/gateway.toml explains)"
            )
        return self

    @model_validator(mode="after")
    def _certificate_whole(self) -> "Destination":
        if (self.certificate_file is None) != (self.certificate_key_file is None):
            raise ValueError("a client certificate needs both certificate_file and certificate_key_file")
        if isinstance(self.auth, CertificateAuth) and self.certificate_file is None:
            raise ValueError(
                'auth kind "certificate" needs certificate_file and certificate_key_file of the destination'
            )
        return self

    @model_validator(mode="after")
    def _right_to_write_binaries(self) -> "Destination":
        scope = self.auth.scope if isinstance(self.auth, TokenAuth) else "system/Binary.crus"
        if self.report_binary and "/Binary." not in scope:
            raise ValueError(
                "report_binary needs the right to write a Binary: add system/Binary.crus to scope in the auth table"
            )
        return self

    @model_validator(mode="after")
    def _orders_of_somebody(self) -> "Destination":
        if not self.orders.codes:
            return self
        if self.person is not PersonChoice.LOOK_UP:
            raise ValueError('orders are looked up for a person of the record, so they need person = "look-up"')
        if isinstance(self.auth, TokenAuth) and "/ServiceRequest." not in self.auth.scope:
            raise ValueError(
                "orders need the right to read them: add system/ServiceRequest.rs to scope in the auth table"
            )
        return self

    @model_validator(mode="after")
    def _no_proxy_for_this_machine(self) -> "Destination":
        token_url = self.auth.token_url if isinstance(self.auth, TokenAuth) else None
        for name, url in (("url", self.url), ("token_url", token_url)):
            if self.proxy is not None and url is not None and on_this_machine(url):
                raise ValueError(f"{name} is on this machine, so nothing may go through a proxy: leave proxy out")
        return self

    def reading_time(self, size: int) -> timedelta:
        """How long to wait for the answer to a request of `size` bytes: a second more for every 20 kB."""
        return timedelta(seconds=self.read_timeout + size / 20_000)
