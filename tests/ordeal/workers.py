"""The worker processes: started, killed without warning, started again."""

import ctypes
import multiprocessing
import os
import signal
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from multiprocessing.process import BaseProcess
from pathlib import Path

from tests.flow.day import SITE

PRELOAD = ["tests.ordeal.warm"]
FORKS = multiprocessing.get_context("forkserver")

SETTINGS = (
    SITE
    + """
[folders]
inbox = "{inbox}"
done = "{inbox}-done"
held = "{inbox}-held"
state = "{state}"

[watch]
quiet = 0.5
sweep_every = 3.0

[audit]
heads_file = "{state}-heads/heads.jsonl"

[[destinations]]
name = "record"
url = "{record}"
readings = "valid"
read_timeout = 1.5
connect_timeout = 1.5
most_entries = {most_entries}

[node]
name = "{name}"

[store]
{store}
"""
)


def be_the_gateway(words: Sequence[str], log: str) -> None:
    """In the new process: the real command, with its output in a file."""
    ctypes.CDLL(None).prctl(1, signal.SIGKILL)  # PR_SET_PDEATHSIG: none outlives a trial that was broken off
    out = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.dup2(out, 1)
    os.dup2(out, 2)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    sys.argv = ["bp-gateway", *words]
    from gateway.cli import main

    main()


@dataclass
class Worker:
    """One place for a process: its settings, and the process while it lives. `gone`: it never comes back."""

    name: str
    config: Path
    inbox: Path
    process: BaseProcess | None = None
    began: float = 0.0
    kill_at: float | None = None
    gone: bool = False
    _log_from: int = 0

    @property
    def alive(self) -> bool:
        return self.process is not None and self.process.is_alive()

    @property
    def log(self) -> Path:
        return self.config.with_suffix(".log")

    @property
    def working(self) -> bool:
        """Has this process begun its work?"""
        with self.log.open("rb") as log:
            log.seek(self._log_from)
            return b'"started"' in log.read(4000)

    def start(self, now: float) -> None:
        self.log.touch()
        words = ["run", "--config", str(self.config)]
        self.process = FORKS.Process(target=be_the_gateway, args=(words, str(self.log)), name=self.name)
        self._log_from = self.log.stat().st_size
        self.process.start()
        self.began, self.kill_at = now, None

    def kill(self) -> None:
        """SIGKILL: nothing of it runs any more when this returns."""
        assert self.process is not None
        self.process.kill()
        self.process.join()

    def stop(self) -> None:
        """SIGTERM, and patience."""
        if self.process is not None and self.process.is_alive():
            self.process.terminate()
            self.process.join(60)
            if self.process.is_alive():
                self.kill()


def a_worker(place: Path, name: str, state: str, inbox: str, record: str, store: str, most_entries: int) -> Worker:
    """Its folders and settings. Workers with one `state` stand by for each other, those with one `inbox` share it."""
    (place / inbox).mkdir(exist_ok=True)
    config = place / f"{name}.toml"
    config.write_text(
        SETTINGS.format(
            guideline="esc-2024",
            inbox=place / inbox,
            state=place / state,
            record=record,
            name=name,
            store=store,
            most_entries=most_entries,
        )
    )
    return Worker(name, config, place / inbox)
