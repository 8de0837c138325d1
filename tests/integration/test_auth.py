"""Tokens: a real authorization server checks our assertion, and every refusal keeps the work."""

import json
import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

import jwt
import pytest
from scenario.record import EVERYTHING, RecordServer, SmartClient

from gateway.deliver import Server
from gateway.model import Answer, Delivered, Filed, TryLater, Way
from gateway.settings.destination import Destination
from tests.integration.keys import key_pair
from tests.integration.parcels import PERSON, a_parcel, a_patient
from tests.integration.proxy import Fault, Proxy, changed, say

pytestmark = pytest.mark.service
TOKEN = "a-fixed-token-for-the-tests"


@dataclass
class Guarded:
    """A record that wants credentials, a proxy before it, and the keys of two clients."""

    record: RecordServer
    proxy: Proxy
    folder: Path
    ledger: dict[str, Filed] = field(default_factory=dict)
    way: Way | None = None

    def destination(self, auth: dict[str, Any]) -> Destination:
        return Destination.model_validate(
            {"name": "record", "url": self.proxy.base, "readings": "valid", "auth": auth}
        )

    def key_auth(self, algorithm: str = "ES384", **changes: Any) -> dict[str, Any]:
        return {
            "kind": "private-key-jwt",
            "client_id": "gateway",
            "key_file": str(self.folder / f"{algorithm}.pem"),
            "key_id": "key-1",
            "algorithm": algorithm,
            "scope": EVERYTHING,
            # the record names its own address in its discovery; the proxy shows its own
            "token_url": f"{self.record.root}/auth/token",
        } | changes

    def note(self, way: Way, rows: Any) -> None:
        self.way = way
        self.ledger.update({row.resource_id: row for row in rows})

    def file(self, server: Server, recording: str) -> Answer:
        return server.file(a_parcel(recording, person=PERSON), self.way, dict(self.ledger), self.note)

    def tokens_asked(self) -> int:
        return (self.record.folder / "server.log").read_text().count("POST /auth/token")


@pytest.fixture(scope="module", params=["ES384", "RS384"])
def algorithm(request: pytest.FixtureRequest) -> str:
    return request.param


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory, algorithm: str) -> Iterator[RecordServer]:
    folder = tmp_path_factory.mktemp("keys")
    _, public = key_pair(folder, algorithm, algorithm)
    key_pair(folder, "other", algorithm)
    client = SmartClient("gateway", public)
    with RecordServer(folder / "record", smart=client, tokens=(TOKEN,), token_lifetime=300) as server:
        server.put(a_patient())
        yield server


@pytest.fixture
def guarded(record: RecordServer) -> Iterator[Guarded]:
    with Proxy(record.base) as proxy:
        yield Guarded(record, proxy, record.folder.parent)


@pytest.fixture
def recording() -> Callable[[], str]:
    import uuid

    return lambda: str(uuid.uuid4())


def test_a_signed_assertion_brings_one_token_for_the_whole_delivery(
    guarded: Guarded, algorithm: str, recording: Callable[[], str]
) -> None:
    before = guarded.tokens_asked()
    server = Server(guarded.destination(guarded.key_auth(algorithm)))
    assert isinstance(guarded.file(server, recording()), Delivered)
    guarded.way = None
    guarded.ledger.clear()
    assert isinstance(guarded.file(server, recording()), Delivered)
    assert guarded.tokens_asked() == before + 1


def test_the_token_address_is_discovered(guarded: Guarded, algorithm: str, recording: Callable[[], str]) -> None:
    """The discovery document of the record names the record itself, not the proxy."""
    there = Fault(
        changed(lambda body: {**body, "token_endpoint": f"{guarded.record.root}/auth/token"}),
        method="GET",
        path="smart-configuration",
    )
    guarded.proxy.faults.append(there)
    server = Server(guarded.destination(guarded.key_auth(algorithm, token_url=None)))
    assert isinstance(guarded.file(server, recording()), Delivered)
    asked = [seen for seen in guarded.proxy.seen if "smart-configuration" in seen.path]
    assert len(asked) == 1
    assert "Authorization" not in asked[0].headers


def test_a_discovered_address_without_encryption_is_refused(
    guarded: Guarded, algorithm: str, recording: Callable[[], str]
) -> None:
    there = Fault(
        changed(lambda body: {**body, "token_endpoint": "http://auth.example/token"}),
        method="GET",
        path="smart-configuration",
    )
    guarded.proxy.faults.append(there)
    server = Server(guarded.destination(guarded.key_auth(algorithm, token_url=None)))
    answer = guarded.file(server, recording())
    assert isinstance(answer, TryLater)
    assert "not safe" in answer.why


def test_the_assertion_is_what_smart_asks_for(guarded: Guarded, algorithm: str, recording: Callable[[], str]) -> None:
    """SMART Backend Services: alg, kid, typ in the header; iss = sub = client, aud = token address, exp, jti."""
    seen: list[bytes] = []

    def keep(request: Any, ask: Any) -> Any:
        seen.append(request.content)
        return ask(request)

    guarded.proxy.faults.append(Fault(keep, path="/auth/token"))
    # the record checks the audience against its own address, so only the form is looked at here
    server = Server(guarded.destination(guarded.key_auth(algorithm, token_url=f"{guarded.proxy.root}/auth/token")))
    guarded.file(server, recording())
    form = dict(pair.split("=", 1) for pair in seen[0].decode().split("&"))
    assert form["grant_type"] == "client_credentials"
    assert form["client_assertion_type"] == "urn%3Aietf%3Aparams%3Aoauth%3Aclient-assertion-type%3Ajwt-bearer"
    assertion = form["client_assertion"]
    assert jwt.get_unverified_header(assertion) == {"alg": algorithm, "kid": "key-1", "typ": "JWT"}
    claims = jwt.decode(assertion, options={"verify_signature": False})
    assert claims["iss"] == claims["sub"] == "gateway"
    assert claims["aud"] == f"{guarded.proxy.root}/auth/token"
    assert 0 < claims["exp"] - claims["iat"] <= 300
    assert len(claims["jti"]) == 36


def test_a_refused_token_is_renewed_once_and_the_same_part_sent_again(
    guarded: Guarded, algorithm: str, recording: Callable[[], str]
) -> None:
    before = guarded.tokens_asked()
    server = Server(guarded.destination(guarded.key_auth(algorithm)))
    guarded.proxy.faults.append(Fault(say(401), skip=1))
    assert isinstance(guarded.file(server, recording()), Delivered)
    assert guarded.tokens_asked() == before + 2


def test_a_token_that_is_refused_again_keeps_the_work(
    guarded: Guarded, algorithm: str, recording: Callable[[], str]
) -> None:
    server = Server(guarded.destination(guarded.key_auth(algorithm)))
    guarded.proxy.faults.append(Fault(say(401), times=2))
    answer = guarded.file(server, recording())
    assert isinstance(answer, TryLater)
    assert answer.after == timedelta(minutes=10)
    assert not answer.unreachable
    assert len(guarded.proxy.posts()) == 2


def test_a_key_that_is_not_known_is_not_tried_over_and_over(
    guarded: Guarded, algorithm: str, recording: Callable[[], str]
) -> None:
    before = guarded.tokens_asked()
    wrong = guarded.key_auth(algorithm, key_file=str(guarded.folder / "other.pem"))
    server = Server(guarded.destination(wrong))
    for _ in range(3):
        answer = guarded.file(server, recording())
        assert isinstance(answer, TryLater)
        assert answer.after is not None
        assert answer.after > timedelta(minutes=9)
    assert guarded.tokens_asked() == before + 1


def test_a_scope_that_is_not_given_keeps_the_work(
    guarded: Guarded, algorithm: str, recording: Callable[[], str]
) -> None:
    server = Server(guarded.destination(guarded.key_auth(algorithm, scope="user/*.*")))
    answer = guarded.file(server, recording())
    assert isinstance(answer, TryLater)
    assert "invalid_scope" in answer.why


def test_a_key_that_others_can_read_is_not_used(
    guarded: Guarded, algorithm: str, recording: Callable[[], str]
) -> None:
    loose = guarded.folder / "loose.pem"
    loose.write_bytes((guarded.folder / f"{algorithm}.pem").read_bytes())
    loose.chmod(0o640)
    server = Server(guarded.destination(guarded.key_auth(algorithm, key_file=str(loose))))
    answer = guarded.file(server, recording())
    assert isinstance(answer, TryLater)
    assert f"chmod 600 {loose}" in answer.why


@pytest.mark.parametrize("content", [None, b"", b"no key at all"], ids=["missing", "empty", "nonsense"])
def test_a_key_file_that_is_none(
    guarded: Guarded, algorithm: str, recording: Callable[[], str], content: bytes | None
) -> None:
    path = guarded.folder / "none.pem"
    path.unlink(missing_ok=True)
    if content is not None:
        path.touch(mode=0o600)
        path.write_bytes(content)
    server = Server(guarded.destination(guarded.key_auth(algorithm, key_file=str(path))))
    answer = guarded.file(server, recording())
    assert isinstance(answer, TryLater)
    assert str(path) in answer.why


def test_a_fixed_token_is_read_again_when_it_was_renewed(guarded: Guarded, recording: Callable[[], str]) -> None:
    path = guarded.folder / "token"
    path.touch(mode=0o600)
    path.write_text("an-old-token\n")
    server = Server(guarded.destination({"kind": "bearer", "token_file": str(path)}))
    answer = guarded.file(server, recording())
    assert isinstance(answer, TryLater)
    assert "credentials" in answer.why
    path.write_text(TOKEN + "\n")
    assert isinstance(guarded.file(server, recording()), Delivered)


def test_nothing_secret_is_in_answers_logs_or_objects(
    guarded: Guarded, algorithm: str, recording: Callable[[], str], caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    private = (guarded.folder / f"{algorithm}.pem").read_text().splitlines()[1]
    destination = guarded.destination(guarded.key_auth(algorithm))
    server = Server(destination)
    assert isinstance(guarded.file(server, recording()), Delivered)
    header = server._credentials.header(0.0)  # type: ignore[attr-defined]
    token = header.removeprefix("Bearer ")
    shown = caplog.text + repr(destination) + repr(vars(server)) + repr(vars(server._credentials))
    assert private not in shown
    assert token not in shown
    assert json.loads(destination.model_dump_json())["auth"]["key_file"].endswith(f"{algorithm}.pem")


def test_check_tells_what_to_mend(guarded: Guarded, algorithm: str) -> None:
    good = Server(guarded.destination(guarded.key_auth(algorithm))).check()
    assert [item.what for item in good if not item.good] == []
    wrong = guarded.key_auth(algorithm, key_file=str(guarded.folder / "other.pem"))
    bad = Server(guarded.destination(wrong)).check()
    assert {item.what: item.said for item in bad if not item.good}["record: credentials"].startswith(
        "the authorization server refused our key: invalid_client"
    )
