"""The service is killed without warning at ten different moments of its work; nothing is lost, nothing is doubled."""

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from scenario import people
from scenario.exports import exports
from scenario.record import RecordServer

SETTINGS = """
[site]
name = "Larkmoor Surgery"
organization = "Larkmoor Surgery"
timezone = "Europe/London"
identifier_system = "https://fhir.nhs.uk/Id/nhs-number"
guideline = "esc-2024"

[folders]
inbox = "{place}/inbox"
done = "{place}/done"
held = "{place}/held"
state = "{place}/state"

[watch]
quiet = 1

[audit]
heads_file = "{place}/heads/heads.jsonl"

[[destinations]]
name = "record"
url = "{record}"
readings = "valid"
most_entries = 20
"""
MOMENTS = (1, 3, 6, 10, 15, 21, 28, 36, 45, 55)
"""Numbers of audit entries after which the service is killed; about 90 are written in all."""


@pytest.fixture
def record(tmp_path: Path) -> Iterator[RecordServer]:
    with RecordServer(tmp_path / "record") as server:
        for number, person in enumerate((each for each in people.EVERYBODY if each.registered), start=1):
            server.put({**person.patient, "id": f"larkmoor-{number}"})
        yield server


def command(config: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "gateway", *words, "--config", str(config)], capture_output=True, text=True, timeout=60
    )


@contextmanager
def service(config: Path, log: Path) -> Iterator[subprocess.Popen[bytes]]:
    with log.open("ab") as out:
        process = subprocess.Popen(
            [sys.executable, "-m", "gateway", "run", "--config", str(config)],
            stdout=out,
            stderr=out,
            env={**os.environ},
        )
        try:
            yield process
        finally:
            if process.poll() is None:
                process.send_signal(signal.SIGTERM)
                process.wait(30)


def entries(store: Path) -> int:
    if not store.exists():
        return 0
    with sqlite3.connect(f"file:{store}?mode=ro", uri=True, timeout=5) as connection:
        try:
            return int(connection.execute("select count(*) from audit").fetchone()[0])
        except sqlite3.OperationalError:
            return 0


def wait_until(reached, process: subprocess.Popen[bytes], seconds: float = 40) -> None:
    deadline = time.monotonic() + seconds
    while not reached():
        assert process.poll() is None, "the service ended by itself"
        assert time.monotonic() < deadline, "the service did not get that far"
        time.sleep(0.005)


def settled(config: Path, files: int) -> bool:
    counts = json.loads(command(config, "status", "--json").stdout)["overview"]["recordings"]
    return counts.get("delivered", 0) + counts.get("held", 0) == files


@pytest.mark.service
def test_ten_kills_lose_nothing_and_double_nothing(record: RecordServer, tmp_path: Path) -> None:
    place = tmp_path / "day"
    (place / "inbox").mkdir(parents=True)
    config = place / "gateway.toml"
    config.write_text(SETTINGS.format(place=place, record=record.base))
    ends = list(exports(datetime.now(ZoneInfo("Europe/London")).date()))
    for export in ends:
        (place / "inbox" / export.name).write_bytes(export.content)
    store = place / "state" / "gateway.sqlite"
    log = place / "service.log"

    for moment in MOMENTS:
        with service(config, log) as process:
            wait_until(lambda moment=moment: entries(store) >= moment, process)
            process.kill()
            process.wait()
    files = len({export.content for export in ends})
    with service(config, log) as process:
        wait_until(lambda: settled(config, files), process)

    delivered = {export.name: export.who for export in ends if export.ends == "delivered"}
    for name, who in delivered.items():
        assert who is not None
        (patient,) = record.search("Patient", identifier=f"{people.NHS}|{who.number}")
        resources = [
            resource
            for kind in ("Observation", "DiagnosticReport")
            for resource in record.search(kind, subject=f"Patient/{patient['id']}")
        ]
        own = Counter(resource["identifier"][0]["value"] for resource in resources)
        assert resources, f"{name} is lost"
        assert max(own.values()) == 1, f"{name} is doubled"
        assert all(record.versions(each["resourceType"], each["id"]) == 1 for each in resources[:5])
    assert command(config, "audit", "verify").returncode == 0
    assert not list((place / "inbox").iterdir())
