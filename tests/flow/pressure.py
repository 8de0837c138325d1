"""What presses on a running gateway: a small disk, rights that go, a clock that is set."""

import ctypes
import json
import os
import resource
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from gateway.store import Store
from tests.flow.day import Day

PR_CAPBSET_DROP = 24
READ_ANYTHING = (1, 2)
"""CAP_DAC_OVERRIDE and CAP_DAC_READ_SEARCH (capabilities(7)): with them root asks for no right."""


def without_privileges() -> None:
    """For a child process, before its program starts: let rights of folders count for root too."""
    if os.getuid() == 0:
        library = ctypes.CDLL(None, use_errno=True)
        for capability in READ_ANYTHING:
            assert library.prctl(PR_CAPBSET_DROP, capability, 0, 0, 0) == 0


class FileLimit:
    """No file of one process may grow: as where a quota ends or a disk is full. Needs no rights."""

    def __init__(self, process: "subprocess.Popen[bytes]") -> None:
        self._pid = process.pid
        self._usual = resource.prlimit(self._pid, resource.RLIMIT_FSIZE)

    def fill(self, most: int) -> None:
        resource.prlimit(self._pid, resource.RLIMIT_FSIZE, (most, self._usual[1]))

    def free(self) -> None:
        resource.prlimit(self._pid, resource.RLIMIT_FSIZE, self._usual)


@contextmanager
def small_disk(place: Path, size: str) -> Iterator[Path]:
    """A disk of its own, of this size; needs root."""
    place.mkdir(parents=True)
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)], check=True)
    try:
        yield place
    finally:
        subprocess.run(["umount", "--lazy", str(place)], check=True)


def fill(disk: Path) -> Path:
    """Something else takes all that is left of the disk."""
    ballast = disk / "ballast"
    with ballast.open("wb", buffering=0) as file:
        for size in (1 << 20, 1 << 12, 1):
            try:
                while True:
                    file.write(bytes(size))
            except OSError:
                continue
    return ballast


class Clock:
    """A wall clock that a test may set."""

    def __init__(self) -> None:
        self.ahead = timedelta(0)

    def __call__(self) -> datetime:
        return datetime.now(UTC) + self.ahead


def log_of(day: Day) -> list[dict[str, Any]]:
    """What the service wrote to its log."""
    text = (day.place / "service.log").read_text("utf-8")
    return [json.loads(line) for line in text.splitlines() if line.startswith("{")]


def said(day: Day, event: str, part: str | None = None) -> list[str]:
    """What it said about events of this name."""
    lines = [line for line in log_of(day) if line["event"] == event and part in (None, line.get("part"))]
    return [str(line.get("said", "")) for line in lines]


def states(day: Day) -> dict[str, int]:
    """Recordings by the state that people see."""
    with Store.open(day.store) as store:
        return {state.value: count for state, count in store.overview(datetime.now(UTC)).recordings.items()}


def alarm(day: Day, part: str) -> str:
    """What `status` shows as alarm of this part, "" for none."""
    with Store.open(day.store) as store:
        found = store.health().get(part)
    return str(found.detail.get("alarm", "")) if found else ""


def eventually(reached: Callable[[], bool], seconds: float = 120) -> None:
    deadline = time.monotonic() + seconds
    while not reached():
        assert time.monotonic() < deadline, "it did not get that far"
        time.sleep(0.1)


def looking_often(day: Day) -> Day:
    """Its inbox is swept every two seconds, so that nobody has to wait for a second look."""
    day.config.write_text(day.config.read_text().replace("quiet = 0.5\n", "quiet = 0.5\nsweep_every = 2\n"))
    return day


def _mounts() -> bool:
    if os.getuid() != 0:
        return False
    with tempfile.TemporaryDirectory() as place:
        done = subprocess.run(["mount", "-t", "tmpfs", "tmpfs", place], capture_output=True)
        return done.returncode == 0 and subprocess.run(["umount", place], check=True).returncode == 0


MOUNTS = _mounts()
