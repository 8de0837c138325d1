"""Every way of showing who we are, against listeners that check it; every refusal keeps the work."""

import json
import logging
import socket
from base64 import b64encode
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import jwt
import pytest
from cryptography.hazmat.primitives.serialization import load_pem_private_key

from gateway.deliver.keys import keys_in, thumbprint
from gateway.deliver.proofs import KeyProofs
from gateway.deliver.silence import NoReply, Silence
from gateway.deliver.stopped import Stopped
from gateway.deliver.tokens import Tokens as OurTokens
from gateway.deliver.wire import Request, Wire
from gateway.model import Delivered, Rejected, TryLater
from gateway.settings.credentials import PrivateKeyAuth
from gateway.settings.destination import Destination
from tests.integration.authority import Gate, Tokens, TokenServer
from tests.integration.conftest import BATCHES, NO_TAG, WAYS, Story, Tell
from tests.integration.keys import Authority, key_pair
from tests.integration.listeners import listening, said, serving, tunnel
from tests.integration.proxy import Fault, Proxy, say

pytestmark = pytest.mark.service
BUNDLED = WAYS | BATCHES | NO_TAG
SECRET = "s3cret: with a colon & an umlaut ü"


def hidden(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.touch(mode=0o600)
    path.write_text(text)
    return path


@pytest.fixture
def tokens() -> Tokens:
    return Tokens()


@pytest.fixture
def authority(tokens: Tokens) -> Iterator[TokenServer]:
    with TokenServer(tokens) as server:
        yield server


def key_auth(folder: Path, authority: TokenServer, **changes: Any) -> dict[str, Any]:
    """A PEM key that the authorization server knows by its thumbprint."""
    private, public = key_pair(folder, "first")
    kid = thumbprint(load_pem_private_key(private.read_bytes(), None), "ES384")
    authority.tokens.keys[kid] = public
    named = {"kind": "private-key-jwt", "client_id": "gateway", "key_file": str(private)}
    return named | {"token_url": authority.address} | changes


def guarded(tell: Tell, good: Any, auth: dict[str, Any], poor: frozenset[str] = frozenset()) -> Story:
    story = tell(poor, through=Gate, auth=auth)
    story.proxy.good = good  # type: ignore[attr-defined]
    return story


# basic


def basic(folder: Path, password: str) -> dict[str, Any]:
    path = hidden(folder, "password", password + "\n")
    return {"kind": "basic", "user": "Aladdin", "password_file": str(path)}


def test_user_and_password_are_shown_as_the_standard_writes_them(tell: Tell, folder: Path) -> None:
    """The worked example of RFC 7617, 2."""
    story = guarded(tell, lambda shown: shown == "Basic QWxhZGRpbjpvcGVuIHNlc2FtZQ==", basic(folder, "open sesame"))
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()


def test_a_wrong_password_is_shown_once_and_the_work_is_kept(tell: Tell, folder: Path) -> None:
    """Again and again would lock the account."""
    good = b64encode(b"Aladdin:right").decode()
    story = guarded(tell, lambda shown: shown == f"Basic {good}", basic(folder, "wrong"))
    answer = story.file()
    assert isinstance(answer, TryLater)
    assert answer.after == timedelta(minutes=10)
    assert not answer.unreachable
    assert len([seen for seen in story.proxy.seen if "metadata" not in seen.path]) == 1
    hidden(folder, "password", "right\n")
    assert isinstance(story.file(), Delivered)


@pytest.mark.parametrize("text", ["", "\n", "two\nlines", "a\x00b"])
def test_a_password_file_that_holds_no_one_line_is_told(tell: Tell, folder: Path, text: str) -> None:
    answer = guarded(tell, lambda shown: True, basic(folder, text)).file()
    assert isinstance(answer, TryLater)
    assert "does not hold one line" in answer.why


# client secret


def secret_auth(folder: Path, authority: TokenServer, **changes: Any) -> dict[str, Any]:
    path = hidden(folder, "secret", SECRET)
    named = {"kind": "client-secret", "client_id": "gateway", "secret_file": str(path)}
    return named | {"token_url": authority.address} | changes


@pytest.mark.parametrize("method", ["client_secret_basic", "client_secret_post"])
def test_a_client_secret_brings_one_token(tell: Tell, folder: Path, authority: TokenServer, method: str) -> None:
    """RFC 6749, 2.3.1: in the header form-encoded, or in the form; never both (2.3)."""
    authority.tokens.secret = SECRET
    story = guarded(tell, authority.tokens.good, secret_auth(folder, authority, method=method))
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()
    assert len(authority.tokens.asked) == 1
    in_header = "Authorization" in authority.tokens.headers[0]
    assert in_header == (method == "client_secret_basic")
    assert ("client_secret" in authority.tokens.asked[0]) == (not in_header)


def test_a_revoked_secret_stops_and_keeps_the_work(tell: Tell, folder: Path, authority: TokenServer) -> None:
    story = guarded(tell, authority.tokens.good, secret_auth(folder, authority))
    for _ in range(3):
        answer = story.file()
        assert isinstance(answer, TryLater)
        assert not answer.unreachable
        assert SECRET not in answer.why
    assert len(authority.tokens.asked) == 1


# signed assertions


def test_without_a_kid_the_thumbprint_is_the_kid(tell: Tell, folder: Path, authority: TokenServer) -> None:
    story = guarded(tell, authority.tokens.good, key_auth(folder, authority))
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()


def test_a_thumbprint_is_that_of_the_standard() -> None:
    """The worked example of RFC 7638, 3.1 (its public key)."""
    modulus = (
        "0vx7agoebGcQSuuPiLJXZptN9nndrQmbXEps2aiAFbWhM78LhWx4cbbfAAtVT86zwu1RK7aPFFxuhDR1L6tSoc_BJECPebWKRXjB"
        "ZCiFV4n3oknjhMstn64tZ_2W-5JsGY4Hc5n9yBXArwl93lqt7_RN5w6Cf0h4QyQ5v-65YGjQR0_FDW2QvzqY368QQMicAtaSqzs8"
        "KJZgnYb9c7d0zgdAZHzu6qMQvRL5hajrn1n91CbOpbISD08qNLyrdkt-bFTWhAI4vMQFh6WeZu0fM4lFd2NcRwr3XPksINHaQ-G_"
        "xBniIqbw0Ls1jF44-csFCur-kEgU8awapJzKnqDKgw"
    )
    public = {"kty": "RSA", "n": modulus, "e": "AQAB"}

    class Pair:
        def public_key(self) -> Any:
            return jwt.PyJWK.from_dict(public, "RS384").key

    assert thumbprint(Pair(), "RS384") == "NzbLsXh8uDCcd-6MNwXF4W_7noWXFZAfHkxZsRGC9Xs"


def jwk_of(private: Path, kid: str | None) -> dict[str, Any]:
    key = load_pem_private_key(private.read_bytes(), None)
    found: dict[str, Any] = jwt.get_algorithm_by_name("ES384").to_jwk(key, as_dict=True)  # type: ignore[assignment]
    return found | ({"kid": kid} if kid else {})


@pytest.mark.parametrize("whole", [True, False], ids=["set", "single"])
def test_a_jwk_carries_its_own_kid(folder: Path, whole: bool) -> None:
    """RFC 7517, 4.5 and 5."""
    private, _ = key_pair(folder, "pair")
    jwk = jwk_of(private, "its-own")
    path = hidden(folder, "key.json", json.dumps({"keys": [jwk, jwk_of(private, None)]} if whole else jwk))
    assert [key.kid for key in keys_in(path, "of-the-settings", "ES384")] == ["its-own", "of-the-settings"][
        : whole + 1
    ]


def test_a_new_key_is_picked_up_without_a_restart(tell: Tell, folder: Path, authority: TokenServer) -> None:
    auth = key_auth(folder, authority)
    story = guarded(tell, authority.tokens.good, auth)
    assert isinstance(story.file(), Delivered)
    private, public = key_pair(folder, "second")
    kid = thumbprint(load_pem_private_key(private.read_bytes(), None), "ES384")
    authority.tokens.keys = {kid: public}  # the old one is gone from the server
    authority.tokens.given.clear()
    Path(auth["key_file"]).write_bytes(private.read_bytes())
    story.ledger.clear()
    story.uncertain = True
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()


def test_the_older_key_serves_while_the_newer_is_not_accepted(
    tell: Tell, folder: Path, authority: TokenServer
) -> None:
    auth = key_auth(folder, authority)
    newer, _ = key_pair(folder, "newer")
    auth |= {"older_key_file": auth["key_file"], "key_file": str(newer)}
    story = guarded(tell, authority.tokens.good, auth)
    assert isinstance(story.file(), Delivered)
    assert len(authority.tokens.asked) == 2
    found = {item.what: item.said for item in story.server.check() if not item.good}
    assert "the newer key is not accepted yet" in found["record: credentials"]


def test_a_token_is_renewed_before_it_ends(folder: Path, authority: TokenServer) -> None:
    """Life of 60 s, renewed when a fifth of it is left; each token alone, by a clock of the test."""
    clock = [1_000_000.0]
    auth = PrivateKeyAuth.model_validate(key_auth(folder, authority))
    authority.tokens.life, authority.tokens.now = 60, lambda: clock[0]  # type: ignore[method-assign]
    destination = Destination(name="record", url="http://127.0.0.1:1/fhir", readings="valid")  # type: ignore[arg-type]
    wire = Wire(destination, "test")
    ours = OurTokens(auth, KeyProofs(auth), destination.url, wire, lambda: clock[0], lambda: clock[0])
    seen = []
    for _ in range(10):
        seen.append(ours.header(1e12))
        assert authority.tokens.good(seen[-1] or "")
        clock[0] += 10
    assert len(set(seen)) == 2


@pytest.mark.parametrize("jump", [-3650 * 86400.0, -3 * 3600.0, 3 * 3600.0, 3650 * 86400.0])
def test_a_wall_clock_that_jumps_neither_prolongs_a_token_nor_a_rest(
    folder: Path, authority: TokenServer, jump: float
) -> None:
    """Lives and rests are counted by a clock that nobody sets; only what we sign carries the time of day."""
    wall, ticks = [1_000_000_000.0], [50.0]
    auth = PrivateKeyAuth.model_validate(key_auth(folder, authority))
    authority.tokens.life, authority.tokens.now = 60, lambda: wall[0]  # type: ignore[method-assign]
    destination = Destination(name="record", url="http://127.0.0.1:1/fhir", readings="valid")  # type: ignore[arg-type]
    wire = Wire(destination, "test")
    ours = OurTokens(auth, KeyProofs(auth), destination.url, wire, lambda: wall[0], lambda: ticks[0])
    first = ours.header(1e12)
    wall[0] += jump
    ticks[0] += 40
    assert ours.header(1e12) == first
    ticks[0] += 20
    second = ours.header(1e12)
    assert second != first, "its life is over, whatever the wall says"
    known = dict(authority.tokens.keys)
    authority.tokens.keys.clear()
    ours.refused()
    with pytest.raises(Stopped):
        ours.header(1e12)
    wall[0] -= jump
    authority.tokens.keys |= known
    asked = len(authority.tokens.asked)
    with pytest.raises(Stopped) as rest:
        ours.header(1e12)
    assert isinstance(rest.value.answer, TryLater) and rest.value.answer.after is not None
    assert timedelta(minutes=9) < rest.value.answer.after <= timedelta(minutes=10)
    assert len(authority.tokens.asked) == asked, "nobody is asked while it rests"
    ticks[0] += 601
    assert ours.header(1e12) not in (None, first, second)


@pytest.mark.parametrize("way", BUNDLED)
def test_a_401_in_the_middle_renews_and_repeats_that_part_only(
    tell: Tell, folder: Path, authority: TokenServer, way: str
) -> None:
    story = guarded(tell, authority.tokens.good, key_auth(folder, authority), BUNDLED[way])
    story.server = story.new_server(most_entries=3)

    def end_tokens(seen: Any, ask: Any) -> Any:
        authority.tokens.given.clear()
        return say(401)(seen, ask)

    story.proxy.faults.append(Fault(end_tokens, skip=2))
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()
    assert len(authority.tokens.asked) == 2


def test_tokens_that_are_refused_again_and_again_come_to_rest(
    tell: Tell, folder: Path, authority: TokenServer
) -> None:
    """The authorization server is content with us, the record is not: no endless asking."""
    story = guarded(tell, lambda shown: False, key_auth(folder, authority, failures_an_hour=4))
    answers = [story.file() for _ in range(6)]
    assert all(isinstance(answer, TryLater) for answer in answers)
    assert len(authority.tokens.asked) == 4
    last = answers[-1]
    assert isinstance(last, TryLater)
    assert "4 tries for a token failed within an hour" in last.why
    assert last.after is not None
    assert timedelta(minutes=55) < last.after <= timedelta(minutes=60)
    found = {item.what: item.said for item in story.server.check() if not item.good}
    assert "the work is kept" in found["record: credentials"]


@pytest.mark.parametrize(
    ("ahead", "words"),
    [
        (7 * 60, "the clock of this machine is 7 minutes behind the server's"),
        (-3 * 3600, "the clock of this machine is 3 hours ahead of the server's"),
    ],
)
def test_a_clock_that_is_wrong_is_told(
    tell: Tell, folder: Path, authority: TokenServer, ahead: float, words: str
) -> None:
    authority.tokens.ahead = ahead
    answer = guarded(tell, authority.tokens.good, key_auth(folder, authority)).file()
    assert isinstance(answer, TryLater)
    assert answer.why.endswith(words)


def test_clocks_that_agree_are_not_blamed(tell: Tell, folder: Path, authority: TokenServer) -> None:
    auth = key_auth(folder, authority)
    authority.tokens.keys.clear()
    answer = guarded(tell, authority.tokens.good, auth).file()
    assert isinstance(answer, TryLater)
    assert answer.why == "the authorization server refused our key: invalid_client"


# addresses


def test_this_machine_is_never_asked_through_a_proxy(tmp_path: Path) -> None:
    """An address may come from the server's own discovery; our credentials would pass the proxy in the clear."""
    named = {"name": "record", "url": "https://record.example/fhir", "readings": "valid"}
    token = {"kind": "bearer", "token_file": tmp_path / "token"}
    with Gate("http://127.0.0.1:1") as proxy, TokenServer(Tokens()) as authority:
        wire = Wire(Destination.model_validate(named | {"auth": token, "proxy": proxy.root}), "test")
        answer = wire.send(Request(method="POST", address=authority.address, content=b"a=b"), 1e12)
        assert answer == NoReply(silence=Silence.UNTRUSTED, sent=False)
        assert (authority.tokens.asked, proxy.seen) == ([], [])


def test_a_record_elsewhere_cannot_send_our_credentials_to_this_machine(folder: Path, authority: TokenServer) -> None:
    """Over TLS and under a name of its own (reached through a proxy), it names a token address on loopback."""
    auth = PrivateKeyAuth.model_validate(key_auth(folder, authority, token_url=None))
    tls = Authority.new().issue(folder, "record", "record.example")
    named = json.dumps({"token_endpoint": authority.address}).encode()
    with serving(tls, answer=said(200, named)) as port, tunnel(port) as (proxy, asked):
        url = "https://record.example/fhir"
        destination = Destination.model_validate(
            {
                "name": "record",
                "url": url,
                "readings": "valid",
                "auth": auth.model_dump(),
                "ca_file": tls.ca,
                "proxy": proxy,
            }
        )
        ours = OurTokens(auth, KeyProofs(auth), url, Wire(destination, "test"))
        with pytest.raises(Stopped) as stopped:
            ours.header(1e12)
    assert asked == ["record.example:443"]
    assert "not safe" in repr(stopped.value.answer)
    assert authority.tokens.asked == []


@contextmanager
def elsewhere() -> Iterator[tuple[str, list[bytes]]]:
    """Another host: its address, and what it heard."""
    heard: list[bytes] = []

    def play(connection: socket.socket) -> None:
        heard.append(connection.recv(65536))
        connection.sendall(said(200))

    with listening(play) as port:
        yield f"http://127.0.0.1:{port}/fhir/elsewhere", heard


PLACES: dict[str, dict[str, str]] = {
    "abilities": {"method": "GET", "path": "/fhir/metadata"},
    "person": {"path": "/Patient/_search"},
    "write": {},
    "count": {"path": "/Observation/_search"},
    "read back": {"method": "GET", "path": "/fhir/DiagnosticReport/"},
}


@pytest.mark.parametrize("status", [302, 307])
@pytest.mark.parametrize("place", PLACES)
def test_a_redirect_to_another_host_is_never_followed(tell: Tell, folder: Path, place: str, status: int) -> None:
    """RFC 9110, 15.4: a client may follow; ours would hand credentials and results to whoever is named."""
    story = guarded(tell, lambda shown: True, basic(folder, "open sesame"))
    with elsewhere() as (address, heard):
        story.proxy.faults.append(Fault(say(status, Location=address), **PLACES[place]))  # type: ignore[arg-type]
        answer = story.file()
    assert isinstance(answer, Rejected)
    assert heard == []


def test_a_redirect_of_the_token_address_is_never_followed(tell: Tell, folder: Path, authority: TokenServer) -> None:
    with elsewhere() as (address, heard), Proxy("http://127.0.0.1:1") as moved:
        moved.faults.append(Fault(say(307, Location=address), path="/token"))
        auth = key_auth(folder, authority, token_url=f"{moved.root}/token")
        answer = guarded(tell, authority.tokens.good, auth).file()
    assert isinstance(answer, TryLater)
    assert answer.why == "the authorization server gave no token (status 307)"
    assert heard == []


# secrets


def secrets_of(folder: Path, kind: str, authority: TokenServer) -> tuple[dict[str, Any], list[str]]:
    if kind == "basic":
        return basic(folder, "open sesame"), ["open sesame", "QWxhZGRpbjpvcGVuIHNlc2FtZQ=="]
    if kind == "client-secret":
        authority.tokens.secret = SECRET
        return secret_auth(folder, authority), [SECRET]
    auth = key_auth(folder, authority)
    return auth, Path(auth["key_file"]).read_text().splitlines()[1:2]


@pytest.mark.parametrize("kind", ["basic", "client-secret", "private-key-jwt"])
@pytest.mark.parametrize("let_in", [True, False])
def test_nothing_secret_is_in_answers_logs_or_objects(
    tell: Tell, folder: Path, authority: TokenServer, caplog: pytest.LogCaptureFixture, kind: str, let_in: bool
) -> None:
    caplog.set_level(logging.DEBUG)
    auth, hidden_words = secrets_of(folder, kind, authority)
    story = guarded(tell, lambda shown: let_in, auth)
    answer = story.file()
    server = story.server
    words = [*hidden_words, *authority.tokens.given]
    shown = caplog.text + repr(answer) + repr(server.check()) + repr(server.destination) + repr(vars(server))
    shown += repr(vars(server._credentials)) + server.destination.model_dump_json()
    assert [word for word in words if word in shown] == []
    assert isinstance(answer, Delivered if let_in else TryLater)
    for row in story.ledger.values():
        assert [word for word in words if word in repr(replace(row))] == []
