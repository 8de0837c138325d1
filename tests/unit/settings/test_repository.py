"""An audit repository is an address with credentials, and nothing else."""

import pytest
from pydantic import ValidationError

from gateway.settings.credentials import PrivateKeyAuth
from gateway.settings.repository import AuditRepository

KEY = {"kind": "private-key-jwt", "client_id": "gateway", "key_file": "/run/secrets/key.pem", "key_id": "k1"}
URL = "https://audit.example/fhir"


def test_the_right_to_add_audit_events_is_all_that_is_asked_for() -> None:
    auth = AuditRepository.model_validate({"url": URL, "auth": KEY}).auth
    assert isinstance(auth, PrivateKeyAuth)
    assert auth.scope == "system/AuditEvent.c"


def test_a_scope_that_is_written_stands() -> None:
    auth = AuditRepository.model_validate({"url": URL, "auth": {**KEY, "scope": "system/*.c"}}).auth
    assert isinstance(auth, PrivateKeyAuth)
    assert auth.scope == "system/*.c"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"readings": "all"}, "readings"),
        ({"auth": {"kind": "none"}}, "needs credentials"),
        ({"url": "http://audit.example/fhir"}, "https"),
    ],
)
def test_it_is_as_safe_as_a_destination_and_no_more_than_an_address(changes: dict[str, object], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        AuditRepository.model_validate({"url": URL, "auth": KEY} | changes)
