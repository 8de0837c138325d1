"""The audit repository: where AuditEvents go, apart from every record and never in the way of a delivery."""

from pathlib import Path
from typing import Any, Self

from pydantic import Field, ValidationError, model_validator

from gateway.mapping.parse import Declared
from gateway.settings.credentials import Auth, NoAuth
from gateway.settings.destination import Destination

NAME = "audit-repository"
SCOPE = "system/AuditEvent.c"


class AuditRepository(Declared):
    """A FHIR server that keeps AuditEvents. Each key means what it means for a destination."""

    url: str
    auth: Auth = Field(default_factory=NoAuth)
    ca_file: Path | None = None
    certificate_file: Path | None = None
    certificate_key_file: Path | None = None
    proxy: str | None = None
    connect_timeout: float = Field(default=10, gt=0, le=60)
    read_timeout: float = Field(default=60, gt=0, le=240)

    @model_validator(mode="before")
    @classmethod
    def _least_rights(cls, written: Any) -> Any:
        auth = written.get("auth") if isinstance(written, dict) else None
        if isinstance(auth, dict) and auth.get("kind") in ("private-key-jwt", "client-secret"):
            return {**written, "auth": {"scope": SCOPE, **auth}}
        return written

    @model_validator(mode="after")
    def _as_safe_as_a_destination(self) -> Self:
        try:
            self.destination()
        except ValidationError as error:
            said = error.errors(include_input=False, include_url=False)[0]["msg"]
            raise ValueError(said.removeprefix("Value error, ")) from None
        return self

    def destination(self) -> Destination:
        """The same address and credentials, as deliveries know them."""
        chosen = {name: getattr(self, name) for name in type(self).model_fields}
        return Destination.model_validate({"name": NAME, "readings": "none", **chosen})
