"""A profile that a destination wants but that cannot be met is sent without the claim, and two logs say why."""

import json
from datetime import date
from pathlib import Path

import pytest
from scenario.record import RecordServer

from tests.flow.day import Day, a_day
from tests.flow.test_commands import export

pytestmark = pytest.mark.service
UK = "UKCore-Observation-VitalSigns-BloodPressure"


def british(place: Path, record: RecordServer) -> Day:
    day = a_day(place, record.base)
    day.config.write_text(day.config.read_text() + '\nprofile = "uk-core"\n')
    return day


def test_the_reasons_stand_in_the_audit_log_and_in_the_service_log(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = british(tmp_path / "day", record)
    day.drop("a.csv", export(today))
    done = day.command("once")
    assert done.returncode == 0, done.stderr
    exported = tmp_path / "audit.jsonl"
    assert day.command("audit", "export", "--to", str(exported)).returncode == 0
    (told,) = [line for line in exported.read_text().splitlines() if "unclaimed" in line]
    (reason,) = json.loads(told)["detail"]["unclaimed"]["record"]
    assert reason.startswith(f"{UK}: ")
    assert reason.endswith("without it (code, component, more-components)")
    logged = [json.loads(line) for line in done.stderr.splitlines() if "profile not claimed" in line]
    assert [(entry["destination"], entry["said"]) for entry in logged] == [("record", reason)]
    readings = record.search("Observation", code="http://loinc.org|85354-9")
    assert readings
    assert all(UK not in str(body["meta"].get("profile")) for body in readings)
    means = record.search("Observation", code="http://loinc.org|96607-7")
    assert all("UKCore-Observation-AverageBloodPressure" in str(body["meta"]["profile"]) for body in means)


def test_where_everything_is_met_nothing_is_said(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("a.csv", export(today))
    assert "profile not claimed" not in day.command("once").stderr
