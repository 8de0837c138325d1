"""Trust: a certificate is believed only if its CA is named, it is for this host, and it is still good."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from scenario.record import EVERYTHING, RecordServer, SmartClient, Tls

from gateway.deliver import Server
from gateway.deliver.wire import NoReply, Request, Silence, Wire
from gateway.model import Answer, Delivered, Filed, TryLater, Way
from gateway.settings.destination import Destination
from tests.integration.keys import certificates, key_pair
from tests.integration.listeners import serving
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


@pytest.mark.parametrize("made", [{"host": "record.example"}, {"days": -1}], ids=["for another host", "expired"])
def test_a_certificate_that_does_not_fit_is_refused(tmp_path: Path, made: dict[str, object]) -> None:
    tls: Tls = certificates(tmp_path, **made)  # type: ignore[arg-type]
    with serving(tls) as port:
        url = f"https://127.0.0.1:{port}/fhir"
        named = Destination.model_validate(
            {
                "name": "record",
                "url": url,
                "readings": "valid",
                "auth": {"kind": "bearer", "token_file": "token"},
                "ca_file": tls.ca,
            }
        )
        answer = Wire(named, "test").send(Request(method="GET", address=f"{url}/metadata"), 1e12)
    assert answer == NoReply(silence=Silence.UNTRUSTED, sent=False)


def test_plain_http_to_another_machine_is_never_sent() -> None:
    """Even where an address did not come from the settings."""
    named = Destination.model_validate({"name": "record", "url": "http://127.0.0.1/fhir", "readings": "valid"})
    answer = Wire(named, "test").send(Request(method="GET", address="http://192.0.2.1/fhir/metadata"), 1e12)
    assert answer == NoReply(silence=Silence.UNTRUSTED, sent=False)
