"""The second record server that is not ours, started on loopback and ended: `server.mjs`, on packages of npm.

`SecondServer(folder)` offers what tests ask of the first one: put, read, search, versions.
"""

import hashlib
import os
import shutil
import signal
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Self

import requests

HERE = Path(__file__).parent
CACHE = HERE.parents[2] / ".cache" / "conformance"
LOCKED = ("package.json", "package-lock.json", "server.mjs")


class SecondServer:
    """One server process; what it holds is gone with it."""

    def __init__(self, folder: Path) -> None:
        self._log = folder / "second-server.log"
        self._session = requests.Session()
        self._session.trust_env = False
        self._process: subprocess.Popen[str] | None = None
        self.base = ""

    def __enter__(self) -> Self:
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(
                ["node", "server.mjs"],
                cwd=installed(),
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
                start_new_session=True,
            )
        assert self._process.stdout is not None
        self.base = self._process.stdout.readline().strip()  # it says where once it listens; "" when it ended
        if not self.base:
            self.__exit__()
            raise RuntimeError("the second server did not start:\n" + self._log.read_text()[-2000:])
        return self

    def __exit__(self, *_: object) -> None:
        self._session.close()
        if self._process is not None:
            if self._process.poll() is None:
                os.killpg(self._process.pid, signal.SIGKILL)  # it keeps nothing that could be spoilt
            self._process.communicate()

    def put(self, resource: Mapping[str, Any]) -> dict[str, Any]:
        answer = self._session.put(f"{self.base}/{resource['resourceType']}/{resource['id']}", json=resource)
        assert answer.status_code in (200, 201), answer.text
        return answer.json()

    def read(self, kind: str, resource_id: str) -> dict[str, Any]:
        return self._got(f"{kind}/{resource_id}")

    def search(self, kind: str, **parameters: str) -> list[dict[str, Any]]:
        found = self._got(kind, {"_count": "500", **parameters})
        assert len(found.get("entry", [])) == found["total"], "more than one page"
        return [entry["resource"] for entry in found.get("entry", [])]

    def versions(self, kind: str, resource_id: str) -> int:
        """How many versions the history of a resource has."""
        return len(self._got(f"{kind}/{resource_id}/_history")["entry"])

    def _got(self, path: str, parameters: Mapping[str, str] | None = None) -> dict[str, Any]:
        answer = self._session.get(f"{self.base}/{path}", params=parameters)
        assert answer.status_code == 200, answer.text
        return answer.json()


def installed() -> Path:
    """The folder of the server with its packages, made once for each content of its files.

    npm checks every package by the hash of the lock.
    """
    key = hashlib.sha256(b"".join((HERE / name).read_bytes() for name in LOCKED)).hexdigest()[:12]
    made = CACHE / f"server-{key}"
    if not (made / "complete").exists():
        shutil.rmtree(made, ignore_errors=True)
        made.mkdir(parents=True)
        for name in LOCKED:
            shutil.copy(HERE / name, made)
        quiet = ["--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"]
        subprocess.run(["npm", "ci", *quiet], cwd=made, check=True, stdout=subprocess.DEVNULL)
        (made / "complete").touch()
    return made
