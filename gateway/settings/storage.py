"""Where the store lies: SQLite in the state folder, or a PostgreSQL database that several nodes share."""

from pathlib import Path
from typing import Self
from urllib.parse import SplitResult, urlsplit

from pydantic import Field, PositiveInt, field_validator, model_validator

from gateway.mapping.parse import Declared
from gateway.settings.addresses import on_this_machine

_WRITE = "write it as postgresql://user@host:5432/database"


class StoreChoice(Declared):
    """`url` None: SQLite, for one node. A database on another machine needs `ca_file`: TLS is always verified."""

    url: str | None = None
    """postgresql://user@host:port/database, without a password"""
    password_file: Path | None = None
    """the password, in a file that only this account may read; read at every connection"""
    ca_file: Path | None = None
    """the certificate authorities that vouch for the database server, PEM"""
    nodes: PositiveInt = 1
    """how many gateways share the store"""

    @field_validator("url")
    @classmethod
    def _address(cls, value: str | None) -> str | None:
        if value is not None:
            parts_of(value)
        return value

    @model_validator(mode="after")
    def _fits(self) -> Self:
        if self.url is None and (self.password_file or self.ca_file):
            raise ValueError(f"password_file and ca_file belong to a database server; url is missing: {_WRITE}")
        if self.url is None and self.nodes > 1:
            raise ValueError(
                f"nodes is {self.nodes}, but SQLite serves one gateway only; set url to a PostgreSQL database "
                f"({_WRITE}) and take the present store along with `bp-gateway store move`, or set nodes = 1"
            )
        if self.url is not None and not on_this_machine(self.url) and self.ca_file is None:
            raise ValueError(
                "a database on another machine needs ca_file, the certificates (PEM) that vouch for its server"
            )
        return self


class NodeChoice(Declared):
    """This machine among those that share a store."""

    name: str = Field(default="", pattern=r"^[A-Za-z0-9._-]{0,63}$")
    """as `status` and the log show it; the host name where it is empty"""


def parts_of(url: str) -> SplitResult:
    """The parts of a database address. Raises ValueError in words that say what to write instead."""
    try:
        parts = urlsplit(url)
        named = bool(parts.hostname and parts.username and parts.path.strip("/"))
        _ = parts.port
    except ValueError:
        raise ValueError(f"this is not an address; {_WRITE}") from None
    if parts.scheme != "postgresql":
        raise ValueError(f"only PostgreSQL can be a shared store; {_WRITE}; without url the store is SQLite")
    if parts.password is not None:
        raise ValueError("leave the password out of the address; put it into a file and name it as password_file")
    if parts.query or parts.fragment or "/" in parts.path.strip("/"):
        raise ValueError(f"leave out everything after the database's name; {_WRITE}")
    if not named:
        raise ValueError(f"user, host and database are all needed; {_WRITE}")
    return parts
