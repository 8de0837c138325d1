"""Mutual TLS: our certificate is all that a server asks for, and both sides look closely."""

import json
import ssl
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives import serialization
from scenario.record import Tls

from gateway.deliver import Server
from gateway.deliver.outcome import of_silence
from gateway.deliver.silence import NoReply, Silence
from gateway.deliver.wire import Reply, Request, Wire
from gateway.model import Delivered, TryLater
from gateway.operate.logs import open_log
from gateway.service.lookout import Lookout
from gateway.settings.destination import Destination
from gateway.store import Store
from tests.databases import Place
from tests.integration.conftest import Story, Tell
from tests.integration.keys import Authority
from tests.integration.listeners import serving
from tests.integration.proxy import Proxy

pytestmark = pytest.mark.service
ROOT = Authority.new()


@pytest.fixture
def served(tmp_path: Path) -> Tls:
    return ROOT.issue(tmp_path / "server", "record", "127.0.0.1")


def wants_ours(trusted: Path) -> Callable[[ssl.SSLContext], None]:
    """The server asks for a certificate; with a list of revoked ones in the file it looks there, too."""

    def shaped(context: ssl.SSLContext) -> None:
        context.verify_mode = ssl.CERT_REQUIRED
        context.load_verify_locations(trusted)
        if b"X509 CRL" in trusted.read_bytes():
            context.verify_flags |= ssl.VERIFY_CRL_CHECK_LEAF

    return shaped


def ours(tls: Tls) -> dict[str, Any]:
    return {"certificate_file": str(tls.certificate), "certificate_key_file": str(tls.key)}


def destination(port: int, ca: Path, **settings: Any) -> Destination:
    url = f"https://127.0.0.1:{port}/fhir"
    named = {"name": "record", "url": url, "readings": "valid", "auth": {"kind": "certificate"}, "ca_file": ca}
    return Destination.model_validate(named | settings)


def asked(port: int, ca: Path, **settings: Any) -> NoReply | Reply:
    named = destination(port, ca, **settings)
    return Wire(named, "test").send(Request(method="GET", address=f"{named.url}/metadata"), 1e12)


def guarded(tell: Tell, served: Tls, client: Tls) -> Story:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(served.certificate, served.key)
    wants_ours(served.ca)(context)
    return tell(
        through=lambda base, poor: Proxy(base, poor, tls=context),
        auth={"kind": "certificate"},
        ca_file=served.ca,
        **ours(client),
    )


def test_our_certificate_lets_us_in(tell: Tell, served: Tls, tmp_path: Path) -> None:
    story = guarded(tell, served, ROOT.issue(tmp_path, "gateway"))
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()
    assert [seen for seen in story.proxy.seen if "Authorization" in seen.headers] == []


def test_the_certificates_between_go_along(tell: Tell, served: Tls, tmp_path: Path) -> None:
    """A server knows the root only; we send what lies between (RFC 8446, 4.4.2)."""
    between = ROOT.intermediate("Example between")
    story = guarded(tell, served, between.issue(tmp_path, "gateway", chain=[between]))
    assert isinstance(story.file(), Delivered)


def test_an_exchanged_certificate_is_used_without_a_restart(tell: Tell, served: Tls, tmp_path: Path) -> None:
    story = guarded(tell, served, ROOT.issue(tmp_path, "gateway", days=-1))
    answer = story.file()
    assert isinstance(answer, TryLater)
    ROOT.issue(tmp_path, "gateway")  # new files in the same place
    assert isinstance(story.file(), Delivered)
    story.assert_there_once()


def refused_certificate(folder: Path, kind: str) -> tuple[Tls, Path]:
    """Our certificate, and what the server trusts."""
    trusted = folder / "trusted.pem"
    trusted.write_bytes(ROOT.certificate.public_bytes(serialization.Encoding.PEM))
    if kind == "of another authority":
        return Authority.new("Another CA").issue(folder, "gateway"), trusted
    if kind == "between left out":
        return ROOT.intermediate("Example between").issue(folder, "gateway"), trusted
    client = ROOT.issue(folder, "gateway", days=-1 if kind == "expired" else 300)
    return client, ROOT.revoked(folder, client) if kind == "revoked" else trusted


@pytest.mark.parametrize("version", [ssl.TLSVersion.TLSv1_2, ssl.TLSVersion.TLSv1_3], ids=["TLS 1.2", "TLS 1.3"])
@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("expired", "the server says that our certificate has expired"),
        ("revoked", "the server says that our certificate was revoked"),
        ("of another authority", "the server does not trust the authority of our certificate"),
        ("between left out", "the server does not trust the authority of our certificate"),
    ],
)
def test_a_refused_certificate_is_told(
    served: Tls, tmp_path: Path, kind: str, words: str, version: ssl.TLSVersion
) -> None:
    client, trusted = refused_certificate(tmp_path, kind)

    def shaped(context: ssl.SSLContext) -> None:
        wants_ours(trusted)(context)
        context.maximum_version = version

    with serving(served, shaped) as port:
        answer = asked(port, served.ca, **ours(client))
    assert answer == NoReply(silence=Silence.OURS, sent=False)
    assert isinstance(answer, NoReply)
    later = of_silence(answer, writes=True)
    assert later.why == words
    assert not later.unreachable
    assert not later.outcome_unknown


@pytest.mark.parametrize("version", [ssl.TLSVersion.TLSv1_2, ssl.TLSVersion.TLSv1_3], ids=["TLS 1.2", "TLS 1.3"])
def test_a_server_that_wants_a_certificate_is_told(served: Tls, version: ssl.TLSVersion) -> None:
    def shaped(context: ssl.SSLContext) -> None:
        wants_ours(served.ca)(context)
        context.maximum_version = version

    with serving(served, shaped) as port:
        answer = asked(port, served.ca, auth={"kind": "bearer", "token_file": "token"})
    assert isinstance(answer, NoReply)
    assert not answer.sent
    assert "wants a client certificate" in answer.detail


def spoilt(client: Tls, kind: str, folder: Path) -> str:
    """Do something to our key; what IT is told about it."""
    if kind == "open to others":
        client.key.chmod(0o640)
        return f"chmod 600 {client.key}"
    if kind == "missing":
        client.key.unlink()
        return f"cannot read {client.key}"
    if kind == "of another pair":
        client.key.write_bytes(ROOT.issue(folder / "other", "other").key.read_bytes())
    if kind == "encrypted":
        own = serialization.load_pem_private_key(client.key.read_bytes(), None)
        hidden = serialization.BestAvailableEncryption(b"word")
        client.key.write_bytes(
            own.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, hidden)
        )
    if kind == "nonsense":
        client.key.write_bytes(b"no key at all")
    return f"{client.certificate} and {client.key} are no certificate with its private key"


@pytest.mark.parametrize("kind", ["open to others", "missing", "of another pair", "encrypted", "nonsense"])
def test_a_key_that_cannot_be_used_is_told_and_nothing_sent(
    tell: Tell, served: Tls, tmp_path: Path, kind: str
) -> None:
    client = ROOT.issue(tmp_path, "gateway")
    words = spoilt(client, kind, tmp_path)
    story = guarded(tell, served, client)
    answer = story.file()
    assert isinstance(answer, TryLater)
    assert words in answer.why
    assert story.proxy.seen == []


# thirty days ahead


@pytest.mark.parametrize("days", [29, 31])
def test_certificates_are_warned_about_thirty_days_ahead(tell: Tell, tmp_path: Path, days: int) -> None:
    served = ROOT.issue(tmp_path / "server", "record", "127.0.0.1", days=days + 1)
    client = ROOT.issue(tmp_path, "gateway", days=days + 1)
    story = guarded(tell, served, client)
    said = [item.said for item in story.server.check() if not item.good]
    warned = story.server.warnings(datetime.now(UTC))
    assert bool(said) == bool(warned) == (days == 29)
    if warned:
        assert [f"our certificate {client.certificate} (gateway)" in words for words in warned] == [True, False]
        assert "the server's certificate (record)" in warned[1]
        assert all("(29 more days)" in words for words in (*said, *warned))


def test_our_certificate_is_warned_about_before_any_connection(tmp_path: Path) -> None:
    between = ROOT.intermediate("Example between", days=10)
    client = between.issue(tmp_path, "gateway", chain=[between])
    server = Server(destination(1, client.ca, **ours(client)))
    assert [words.partition(" is good")[0] for words in server.warnings(datetime.now(UTC))] == [
        "an authority above it (Example between)"
    ]


def test_check_names_a_certificate_that_ran_out(tmp_path: Path) -> None:
    client = ROOT.issue(tmp_path, "gateway", days=-1)
    checks = Server(destination(1, client.ca, **ours(client))).check()
    said = {item.what: item.said for item in checks if not item.good}["record: certificate"]
    assert said.startswith(f"our certificate {client.certificate} (gateway) ran out on ")


def test_the_log_and_status_tell_it_at_the_start_once_a_day_and_when_it_changes(place: Place, tmp_path: Path) -> None:
    client = ROOT.issue(tmp_path, "gateway", days=10)
    server = Server(destination(1, client.ca, **ours(client)))
    written, start = StringIO(), datetime.now(UTC)
    with Store.open(place.address) as store:
        lookout = Lookout(store, {"record": server}, open_log("json", "info", written))
        for hours in (0, 1, 2, 24, 25):
            lookout.look("record", start.replace(hour=1) + timedelta(hours=hours))
        told = [json.loads(line) for line in written.getvalue().splitlines()]
        assert [line["event"] for line in told] == ["renew", "renew"]
        assert told[0]["destination"] == "record"
        assert f"our certificate {client.certificate} (gateway) is good until" in told[0]["said"]
        assert str(client.certificate) in str(store.health()["access to record"].detail["alarm"])
        ROOT.issue(tmp_path, "gateway")
        lookout.look("record", start.replace(hour=1) + timedelta(hours=26))
        assert store.health()["access to record"].detail == {"certificates": "good"}
    assert len(written.getvalue().splitlines()) == 2
