"""One gateway with its folders and settings, driven by the real commands."""

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SITE = """
[site]
name = "Larkmoor Surgery"
organization = "Larkmoor Surgery"
timezone = "Europe/London"
identifier_system = "https://fhir.nhs.uk/Id/nhs-number"
guideline = "{guideline}"
"""
FOLDERS = """
[folders]
inbox = "{place}/inbox"
done = "{place}/done"
held = "{place}/held"
state = "{place}/state"
"""
SETTINGS = (
    SITE
    + FOLDERS
    + """
[watch]
quiet = 0.5

[audit]
heads_file = "{place}/heads/heads.jsonl"

[[destinations]]
name = "record"
url = "{record}"
readings = "valid"
most_entries = {most_entries}
"""
)


@dataclass(frozen=True)
class Day:
    """`place` is the folder of everything, `config` the settings file."""

    place: Path
    config: Path

    @property
    def store(self) -> Path:
        return self.place / "state" / "gateway.sqlite"

    def drop(self, name: str, content: bytes) -> Path:
        path = self.place / "inbox" / name
        path.write_bytes(content)
        return path

    def command(self, *words: str) -> subprocess.CompletedProcess[str]:
        """Run one command and give back what it printed."""
        return subprocess.run(
            [sys.executable, "-m", "gateway", *words, "--config", str(self.config)],
            capture_output=True,
            text=True,
            timeout=300,
            env=clean(),
        )

    def facts(self, *words: str) -> Any:
        """What a command prints with --json."""
        done = self.command(*words, "--json")
        assert done.stdout, done.stderr
        return json.loads(done.stdout)

    def counts(self) -> dict[str, int]:
        """Recordings by the state that people see."""
        found: dict[str, int] = self.facts("status")["overview"]["recordings"]
        return found

    def idle(self) -> bool:
        """Nothing waits to be sent."""
        with sqlite3.connect(f"file:{self.store}?mode=ro", uri=True, timeout=5) as connection:
            open_ = "select count(*) from deliveries where state in ('waiting', 'sending')"
            return int(connection.execute(open_).fetchone()[0]) == 0

    @contextmanager
    def service(self, prepare: Callable[[], None] | None = None) -> Iterator[subprocess.Popen[bytes]]:
        """The service as a process; stopped by SIGTERM unless it is dead already. `prepare` is run in it first."""
        with (self.place / "service.log").open("ab") as out:
            process = subprocess.Popen(
                [sys.executable, "-m", "gateway", "run", "--config", str(self.config)],
                stdout=out,
                stderr=out,
                env=clean(),
                preexec_fn=prepare,
            )
            try:
                yield process
            finally:
                if process.poll() is None:
                    process.send_signal(signal.SIGTERM)
                    process.wait(120)


def a_day(place: Path, record: str, guideline: str = "esc-2024", most_entries: int = 100) -> Day:
    (place / "inbox").mkdir(parents=True)
    config = place / "gateway.toml"
    config.write_text(SETTINGS.format(place=place, record=record, guideline=guideline, most_entries=most_entries))
    return Day(place, config)


def entries(store: Path) -> int:
    """How many entries the audit log has; 0 before there is one."""
    if not store.exists():
        return 0
    with sqlite3.connect(f"file:{store}?mode=ro", uri=True, timeout=5) as connection:
        try:
            return int(connection.execute("select count(*) from audit").fetchone()[0])
        except sqlite3.OperationalError:
            return 0


def clean() -> dict[str, str]:
    """The environment without settings of another gateway."""
    return {key: value for key, value in os.environ.items() if not key.startswith(("BP_GATEWAY", "CREDENTIALS_"))}


def wait_until(reached: Callable[[], bool], process: subprocess.Popen[bytes], seconds: float = 120) -> None:
    deadline = time.monotonic() + seconds
    while not reached():
        assert process.poll() is None, "the service ended by itself"
        assert time.monotonic() < deadline, "the service did not get that far"
        time.sleep(0.005)
