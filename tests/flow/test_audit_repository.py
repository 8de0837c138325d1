"""An audit repository is told what we asked and wrote; it never stands in the way of a delivery."""

import json
from collections import Counter
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from scenario import people
from scenario.record import RecordServer, free_port

from tests.flow.day import Day, a_day
from tests.flow.test_commands import export, reports

pytestmark = pytest.mark.service


@pytest.fixture
def repository(tmp_path: Path) -> Iterator[RecordServer]:
    server = RecordServer(tmp_path / "repository")
    yield server
    server.stop()


def watched(place: Path, record: RecordServer, repository: str) -> Day:
    day = a_day(place, record.base)
    with day.config.open("a") as settings:
        settings.write(f'\n[audit.repository]\nurl = "{repository}"\n')
    return day


def told(repository: RecordServer) -> list[dict[str, Any]]:
    return repository.search("AuditEvent")


def written_resources(record: RecordServer) -> Counter[str]:
    kinds = ("Device", "Observation", "DiagnosticReport", "Provenance")
    return Counter({f"{kind}": len(record.search(kind)) for kind in kinds})


def created(events: list[dict[str, Any]]) -> Counter[str]:
    data = [
        entity["what"]["reference"]
        for event in events
        if event["action"] == "C"
        for entity in event["entity"]
        if entity["type"]["code"] == "2"
    ]
    assert len(data) == len(set(data))
    return Counter(reference.split("/fhir/")[1].split("/")[0] for reference in data)


def test_every_resource_and_the_question_who_it_is(
    record: RecordServer, repository: RecordServer, tmp_path: Path, today: date
) -> None:
    repository.start()
    day = watched(tmp_path / "day", record, repository.base)
    day.drop("a.csv", export(today))
    assert day.command("once").returncode == 0
    events = told(repository)
    assert created(events) == written_resources(record)
    (query,) = [event for event in events if event["action"] == "E"]
    assert query["outcome"] == "0"
    (patient,) = record.search("Patient", identifier=f"{people.NHS}|{people.ADA.number}")
    subjects = {
        entity["what"]["reference"] for event in events for entity in event["entity"] if entity["type"]["code"] == "1"
    }
    assert subjects == {f"{record.base}/Patient/{patient['id']}"}
    said = json.dumps(events)
    for secret in (people.ADA.number, people.ADA.family, people.ADA.given):
        assert secret not in said


def test_a_repository_that_is_down_delays_nothing_and_is_told_later(
    record: RecordServer, repository: RecordServer, tmp_path: Path, today: date
) -> None:
    day = watched(tmp_path / "day", record, repository.base)
    day.drop("a.csv", export(today))
    done = day.command("once")
    assert done.returncode == 0, done.stderr
    assert "audit repository wait" in done.stdout + done.stderr
    assert len(reports(record, people.ADA)) == 1
    assert day.counts() == {"delivered": 1}
    assert "audit repository" in day.command("status").stdout
    repository.start()
    for _ in range(20):
        if "audit repository wait" not in (again := day.command("once")).stdout + again.stderr:
            break
    assert created(told(repository)) == written_resources(record)


def test_nobody_found_and_a_record_that_is_away(
    record: RecordServer, repository: RecordServer, tmp_path: Path, today: date
) -> None:
    repository.start()
    stranger = next(each for each in people.EVERYBODY if not each.registered)
    day = watched(tmp_path / "day", record, repository.base)
    day.drop("a.csv", export(today, stranger))
    day.command("once")
    (asked,) = told(repository)
    assert (asked["action"], asked["outcome"]) == ("E", "0")
    assert [entity["type"]["code"] for entity in asked["entity"]] == ["2"]
    away = RecordServer(tmp_path / "away")
    other = watched(tmp_path / "other", away, repository.base)
    other.drop("b.csv", export(today))
    assert other.command("once").returncode == 3
    failed = [event for event in told(repository) if event["outcome"] != "0"]
    assert [(event["action"], event["outcome"], event["outcomeDesc"]) for event in failed] == [
        ("E", "8", "unreachable")
    ]


def test_check_looks_at_the_repository(record: RecordServer, repository: RecordServer, tmp_path: Path) -> None:
    day = watched(tmp_path / "day", record, f"http://127.0.0.1:{free_port()}/fhir")
    assert "MEND  audit-repository: reached" in day.command("check").stdout
    repository.start()
    good = watched(tmp_path / "good", record, repository.base).command("check")
    assert "ok    audit-repository: AuditEvents: takes AuditEvents in bundles" in good.stdout
    assert good.returncode == 0
