"""How we show a server who we are: never a secret, only the names of files that are read at the moment of use."""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, field_validator

from gateway.mapping.parse import Declared
from gateway.settings.addresses import safe_address


class NoAuth(Declared):
    """No credentials; accepted for a server on this very machine only."""

    kind: Literal["none"] = "none"


class CertificateAuth(Declared):
    """The client certificate of the destination (`certificate_file`) is all that is shown."""

    kind: Literal["certificate"]


class BasicAuth(Declared):
    """A user name and a password in a file (RFC 7617)."""

    kind: Literal["basic"]
    user: str = Field(min_length=1)
    password_file: Path

    @field_validator("user")
    @classmethod
    def _no_colon(cls, value: str) -> str:
        if ":" in value:
            raise ValueError("a user name with a colon cannot be told from its password (RFC 7617)")
        return value


class BearerAuth(Declared):
    """A fixed token in a file, read again when the server refuses it."""

    kind: Literal["bearer"]
    token_file: Path


class TokenAuth(Declared):
    """OAuth2 client credentials: a token is asked for and shown until shortly before it ends.

    Without `token_url` the server is asked for it at `.well-known/smart-configuration`. `scope`: least rights that
    filing needs. `failures_an_hour`: so many tries for a token may fail within an hour, then it rests.
    """

    client_id: str = Field(min_length=1)
    token_url: str | None = None
    scope: str = (
        "system/Patient.rs system/Observation.crus system/DiagnosticReport.crus system/DocumentReference.crus "
        "system/Device.crus system/Provenance.crs"
    )
    failures_an_hour: int = Field(default=6, ge=1, le=60)

    @field_validator("token_url")
    @classmethod
    def _safe_address(cls, value: str | None) -> str | None:
        if value is not None:
            safe_address(value)
        return value  # as written: the assertion's audience must equal it letter for letter


class ClientSecretAuth(TokenAuth):
    """A shared secret in a file, shown in the header or in the form (RFC 6749, 2.3.1)."""

    kind: Literal["client-secret"]
    secret_file: Path
    method: Literal["client_secret_basic", "client_secret_post"] = "client_secret_basic"


class PrivateKeyAuth(TokenAuth):
    """A signed assertion (SMART Backend Services, `private_key_jwt`).

    `key_file`: private key, mode 0600: PEM, or a JWK or JWK Set (RFC 7517), whose own `kid` counts. `key_id`: the kid
    of a PEM key; without it, the thumbprint of its public half (RFC 7638), so that a new file is a new kid.
    `older_key_file`: used where the newer key is not accepted (yet). `assertion_seconds`: how long one assertion is
    valid; SMART allows 300, the rest is for clocks that differ.
    """

    kind: Literal["private-key-jwt"]
    key_file: Path
    key_id: str | None = Field(default=None, min_length=1)
    older_key_file: Path | None = None
    older_key_id: str | None = Field(default=None, min_length=1)
    algorithm: Literal["ES384", "RS384"] = "ES384"
    assertion_seconds: int = Field(default=240, ge=30, le=300)


Auth = Annotated[
    NoAuth | CertificateAuth | BasicAuth | BearerAuth | ClientSecretAuth | PrivateKeyAuth,
    Field(discriminator="kind"),
]
