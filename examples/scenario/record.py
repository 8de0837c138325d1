"""An independent FHIR R4 server (sekmet-fhir, from PyPI) as the record: started on loopback, stopped for good.

    with RecordServer(folder) as record:                    # no credentials needed
    with RecordServer(folder, smart=SmartClient(...)) as record:   # SMART Backend Services tokens

Whoever tests or demonstrates looks into it through `record.put/search/read/history`, with a token of its own.
"""

import json
import os
import secrets
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

import requests

EVERYTHING = "system/*.cruds"
"""The scope that sekmet asks for on transactions, which it counts as writing any type."""


@dataclass(frozen=True)
class SmartClient:
    """A registered client: its id and the file of its public key (PEM)."""

    client_id: str
    public_key: Path
    scopes: str = EVERYTHING


@dataclass(frozen=True)
class Tls:
    certificate: Path
    key: Path
    ca: Path


class RecordServer:
    """One server process with its data in `folder`; `stop` and `start` again keep the data."""

    def __init__(
        self,
        folder: Path,
        smart: SmartClient | None = None,
        tokens: tuple[str, ...] = (),
        token_lifetime: int = 300,
        tls: Tls | None = None,
        host: str = "127.0.0.1",
    ) -> None:
        self.folder = folder
        self.port = free_port()
        self.root = f"{'https' if tls else 'http'}://{host}:{self.port}"
        self.base = f"{self.root}/fhir"
        self._tls = tls
        self._own_token = secrets.token_urlsafe(24)
        self._process: subprocess.Popen[bytes] | None = None
        self._session = requests.Session()
        self._session.trust_env = False
        self._session.verify = str(tls.ca) if tls else True
        # a connection that was idle for long may be closed by the server just when it is used again
        self._session.headers["Connection"] = "close"
        self._session.headers["Authorization"] = f"Bearer {self._own_token}"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "settings.yaml").write_text(json.dumps(self._settings(smart, tokens, token_lifetime)))

    def _settings(self, smart: SmartClient | None, tokens: tuple[str, ...], lifetime: int) -> dict[str, Any]:
        kinds = ["smart", "bearer"] if smart else ["bearer"] if tokens else ["none"]
        clients = []
        if smart:
            clients = [
                {"client_id": smart.client_id, "public_key_path": str(smart.public_key), "scopes": smart.scopes}
            ]
        return {  # JSON is YAML
            "host": "127.0.0.1",
            "port": self.port,
            "base_url": self.base,
            "data_dir": str(self.folder),
            "simulator": {"enabled": False},
            "log_inbound": False,
            "server_auth": {
                "types": kinds,
                "tokens": [self._own_token, *tokens],
                "smart_clients": clients,
                "token_lifetime": lifetime,
            },
            **({"tls_certfile": str(self._tls.certificate), "tls_keyfile": str(self._tls.key)} if self._tls else {}),
        }

    def start(self) -> Self:
        command = [sys.executable, "-c", "from sekmet.cli import app; app()", "serve"]
        with (self.folder / "server.log").open("ab") as log:
            self._process = subprocess.Popen(
                [*command, "--config", str(self.folder / "settings.yaml")],
                stdout=log,
                stderr=log,
                cwd=self.folder,
                env={key: value for key, value in os.environ.items() if not key.startswith("SEKMET_")},
                start_new_session=True,
            )
        self._wait_until_up()
        return self

    def _wait_until_up(self) -> None:
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            assert self._process is not None
            if self._process.poll() is not None:
                break
            try:
                if self._session.get(f"{self.base}/metadata", timeout=5).status_code == 200:
                    return
            except requests.ConnectionError:
                time.sleep(0.05)
        self.stop()
        raise RuntimeError("the record server did not start:\n" + (self.folder / "server.log").read_text()[-2000:])

    def stop(self) -> None:
        if self._process and self._process.poll() is None:
            os.killpg(self._process.pid, signal.SIGTERM)
            try:
                self._process.wait(3)  # it waits for idle connections to be closed
            except subprocess.TimeoutExpired:
                os.killpg(self._process.pid, signal.SIGKILL)
                self._process.wait()
        self._process = None

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(self, *_: object) -> None:
        self.stop()
        self._session.close()

    # what a clinician or administrator of the record does

    def put(self, resource: Mapping[str, Any]) -> dict[str, Any]:
        answer = self._session.put(f"{self.base}/{resource['resourceType']}/{resource['id']}", json=resource)
        assert answer.status_code in (200, 201), answer.text
        return answer.json()

    def post_bundle(self, bundle: Mapping[str, Any]) -> int:
        """The status of a transaction."""
        return self._session.post(self.base, json=bundle).status_code

    def delete(self, kind: str, resource_id: str) -> None:
        answer = self._session.delete(f"{self.base}/{kind}/{resource_id}")
        assert answer.status_code in (200, 204), answer.text

    def read(self, kind: str, resource_id: str) -> dict[str, Any]:
        answer = self._session.get(f"{self.base}/{kind}/{resource_id}")
        assert answer.status_code == 200, answer.text
        return answer.json()

    def search(self, kind: str, **parameters: str) -> list[dict[str, Any]]:
        answer = self._session.get(f"{self.base}/{kind}", params={"_count": "500", **parameters})
        assert answer.status_code == 200, answer.text
        return [entry["resource"] for entry in answer.json().get("entry", [])]

    def versions(self, kind: str, resource_id: str) -> int:
        """How many versions the history of a resource has."""
        answer = self._session.get(f"{self.base}/{kind}/{resource_id}/_history")
        assert answer.status_code == 200, answer.text
        return len(answer.json()["entry"])

    def writes(self) -> int:
        """How many versions of anything were ever written."""
        answer = self._session.get(f"{self.base}/_history", params={"_count": "1000"})
        assert answer.status_code == 200, answer.text
        return len(answer.json()["entry"])


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]
