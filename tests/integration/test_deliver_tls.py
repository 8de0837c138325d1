"""Trust: a certificate is believed only if its CA is named, it is for this host, and it is still good."""

import socket
import ssl
import warnings
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from scenario.record import EVERYTHING, RecordServer, SmartClient, Tls

from gateway.deliver import Server
from gateway.deliver.outcome import of_silence
from gateway.deliver.silence import NoReply, Silence
from gateway.deliver.wire import Reply, Request, Wire
from gateway.model import Answer, Delivered, Filed, TryLater, Way
from gateway.settings.destination import Destination
from tests.integration.keys import Authority, certificates, key_pair, pem
from tests.integration.listeners import listening, said, serving, tunnel
from tests.integration.parcels import a_parcel, a_patient

pytestmark = pytest.mark.service


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("tls-keys")
    key_pair(folder, "client")
    return folder


@pytest.fixture(scope="module")
def record(keys: Path) -> Iterator[RecordServer]:
    client = SmartClient("gateway", keys / "client.pub.pem")
    with RecordServer(keys / "record", smart=client, tls=certificates(keys / "tls")) as server:
        server.put(a_patient())
        yield server


def destination(record: RecordServer, keys: Path, ca: Path | None) -> Destination:
    auth = {
        "kind": "private-key-jwt",
        "client_id": "gateway",
        "key_file": str(keys / "client.pem"),
        "key_id": "key-1",
        "scope": EVERYTHING,
    }
    return Destination.model_validate(
        {"name": "record", "url": record.base, "readings": "valid", "auth": auth, "ca_file": ca}
    )


def file(server: Server) -> Answer:
    ledger: dict[str, Filed] = {}

    def note(way: Way, rows: object) -> None:
        pass

    return server.file(a_parcel(), None, ledger, note)


def test_a_named_ca_is_trusted_and_the_token_discovered(record: RecordServer, keys: Path) -> None:
    answer = file(Server(destination(record, keys, keys / "tls" / "ca.pem")))
    assert isinstance(answer, Delivered)


def test_an_unknown_ca_is_refused(record: RecordServer, keys: Path) -> None:
    answer = file(Server(destination(record, keys, None)))
    assert isinstance(answer, TryLater)
    assert answer.unreachable
    assert "certificate" in answer.why
    found = [item for item in Server(destination(record, keys, None)).check() if not item.good]
    assert "ca_file" in found[0].said


def test_another_ca_is_refused(record: RecordServer, keys: Path, tmp_path: Path) -> None:
    answer = file(Server(destination(record, keys, certificates(tmp_path).ca)))
    assert isinstance(answer, TryLater)
    assert "certificate" in answer.why


def test_a_ca_file_that_is_not_there_is_refused(record: RecordServer, keys: Path, tmp_path: Path) -> None:
    answer = file(Server(destination(record, keys, tmp_path / "none.pem")))
    assert isinstance(answer, TryLater)
    assert "ca_file" in answer.why


def test_the_environment_cannot_lend_trust(record: RecordServer, keys: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A CA bundle of the environment silently beats that of a session elsewhere."""
    for name in ("REQUESTS_CA_BUNDLE", "CURL_CA_BUNDLE", "SSL_CERT_FILE"):
        monkeypatch.setenv(name, str(keys / "tls" / "ca.pem"))
    answer = file(Server(destination(record, keys, None)))
    assert isinstance(answer, TryLater)
    assert "certificate" in answer.why


def test_the_environment_cannot_put_a_proxy_between(
    record: RecordServer, keys: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("HTTP_PROXY", "HTTPS_PROXY", "ALL_PROXY", "https_proxy", "http_proxy"):
        monkeypatch.setenv(name, "http://127.0.0.1:1")
    answer = file(Server(destination(record, keys, keys / "tls" / "ca.pem")))
    assert isinstance(answer, Delivered)


def asked(tls: Tls, port: int, **settings: Any) -> NoReply | Reply:
    """One question to a listener, with the authority of its certificate trusted."""
    url = f"https://127.0.0.1:{port}/fhir"
    token = {"kind": "bearer", "token_file": "token"}
    named = {"name": "record", "url": url, "readings": "valid", "auth": token, "ca_file": tls.ca} | settings
    return Wire(Destination.model_validate(named), "test").send(
        Request(method="GET", address=f"{url}/metadata"), 1e12
    )


def refused(answer: NoReply | Reply, silence: Silence = Silence.UNTRUSTED) -> str:
    """Why, in the words that IT reads."""
    assert isinstance(answer, NoReply)
    assert (answer.silence, answer.sent) == (silence, False)
    return of_silence(answer, writes=True).why


def of_server(folder: Path, kind: str) -> Tls:
    """A certificate of a server as it should not be."""
    root = Authority.new()
    if kind == "expired above":
        between = root.intermediate("Example between", days=-1)
        return replace(between.issue(folder, "record", "127.0.0.1", chain=[between]), ca=_written(folder, root))
    if kind == "nothing between":
        between = root.intermediate("Example between")
        return replace(between.issue(folder, "record", "127.0.0.1"), ca=_written(folder, root))
    if kind == "unknown authority":
        return replace(root.issue(folder, "record", "127.0.0.1"), ca=_written(folder, Authority.new("Another CA")))
    host = {"another address": "127.0.0.2", "another name": "record.example"}.get(kind, "127.0.0.1")
    return root.issue(folder, "record", host, days=-1 if kind == "expired" else 300)


def _written(folder: Path, authority: Authority) -> Path:
    path = folder / "trusted.pem"
    path.write_bytes(pem(authority.certificate))
    return path


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("expired", "has expired"),
        ("expired above", "has expired"),
        ("another address", "is for another address"),
        ("another name", "is for another address"),
        ("unknown authority", "authority that is not trusted"),
        ("nothing between", "does not send the certificates in between"),
    ],
)
def test_a_certificate_that_does_not_fit_is_refused_and_told(tmp_path: Path, kind: str, words: str) -> None:
    """RFC 5280, 6.1: validity and a path to a trusted authority; RFC 9525: the name."""
    tls = of_server(tmp_path, kind)
    with serving(tls) as port:
        assert words in refused(asked(tls, port))


def test_a_whole_chain_is_trusted(tmp_path: Path) -> None:
    root = Authority.new()
    between = root.intermediate("Example between")
    tls = replace(between.issue(tmp_path, "record", "127.0.0.1", chain=[between]), ca=_written(tmp_path, root))
    with serving(tls) as port:
        assert isinstance(asked(tls, port), Reply)


def outdated(context: ssl.SSLContext) -> None:
    """TLS 1.1, which is not to be used (RFC 8996)."""
    with warnings.catch_warnings(action="ignore", category=DeprecationWarning):
        context.minimum_version = ssl.TLSVersion.TLSv1
        context.maximum_version = ssl.TLSVersion.TLSv1_1
    context.set_ciphers("DEFAULT:@SECLEVEL=0")


def test_an_outdated_protocol_is_refused_and_told(tmp_path: Path) -> None:
    tls = certificates(tmp_path)
    with serving(tls, outdated) as port:
        assert refused(asked(tls, port)) == "the server speaks only an outdated TLS; needed is 1.2"


def test_tls_1_2_is_still_good_enough(tmp_path: Path) -> None:
    def shaped(context: ssl.SSLContext) -> None:
        context.maximum_version = ssl.TLSVersion.TLSv1_2

    tls = certificates(tmp_path)
    with serving(tls, shaped) as port:
        assert isinstance(asked(tls, port), Reply)


def test_a_server_without_tls_is_told(tmp_path: Path) -> None:
    def plain(connection: socket.socket) -> None:
        connection.recv(65536)
        connection.sendall(said(400))

    tls = certificates(tmp_path)
    with listening(plain) as port:
        assert refused(asked(tls, port)) == "the server speaks no TLS at this address"


def test_a_proxy_of_the_settings_is_used_and_trust_stays_the_same(tmp_path: Path) -> None:
    tls = certificates(tmp_path, "record.example")
    named = {"url": "https://record.example/fhir", "name": "record", "readings": "valid"}
    named |= {"auth": {"kind": "bearer", "token_file": "token"}}  # type: ignore[dict-item]
    request = Request(method="GET", address="https://record.example/fhir/metadata")
    with serving(tls) as port, tunnel(port) as (proxy, lines):
        known = Destination.model_validate(named | {"ca_file": tls.ca, "proxy": proxy})
        assert isinstance(Wire(known, "test").send(request, 1e12), Reply)
        unknown = Destination.model_validate(named | {"proxy": proxy})
        assert "not trusted" in refused(Wire(unknown, "test").send(request, 1e12))
    assert lines == ["record.example:443"] * 2


def test_plain_http_to_another_machine_is_never_sent() -> None:
    """Even where an address did not come from the settings."""
    named = Destination.model_validate({"name": "record", "url": "http://127.0.0.1/fhir", "readings": "valid"})
    answer = Wire(named, "test").send(Request(method="GET", address="http://192.0.2.1/fhir/metadata"), 1e12)
    assert answer == NoReply(silence=Silence.UNTRUSTED, sent=False)
