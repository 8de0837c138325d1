"""A second recording of the same person is told beside the first one, in the stored facts and in its story."""

import json
from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest
from scenario import layouts, people
from scenario.days import LONDON, Shape
from scenario.record import RecordServer

from tests.flow.day import a_day

pytestmark = pytest.mark.service


def export(today: date, days_ago: int, seed: int, awake: int, serial: str) -> bytes:
    start = datetime.combine(today - timedelta(days=days_ago), time(9, 0), LONDON)
    shape = Shape(awake=(awake, 80, 74), asleep=(106, 62, 60))
    return layouts.plain(people.ADA, shape, start, serial=serial, seed=seed)


def test_the_second_recording_is_compared_with_the_first(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("first.csv", export(today, 45, 1, 144, "T-1"))
    day.command("once")
    day.drop("second.csv", export(today, 2, 3, 130, "T-2"))
    assert day.command("once").returncode == 0
    assert day.counts() == {"delivered": 2}
    ids = [json.loads(line)["recording"] for line in audit(day) if json.loads(line)["kind"] == "ready"]
    first, second = (day.facts("status", one)["comparison"] for one in ids)
    assert first == []
    on = today - timedelta(days=45)
    assert second[0].startswith("Awake average 1") and f"in the recording of {on}: systolic 1" in second[0]
    assert " lower, diastolic " in second[0]
    assert "repeats poorly" in " ".join(second)
    assert f"compared: {second[0]}" in day.command("status", ids[1]).stdout


def audit(day: object) -> list[str]:
    out = day.place / "audit.jsonl"  # type: ignore[attr-defined]
    day.command("audit", "export", "--to", str(out))  # type: ignore[attr-defined]
    return out.read_text().splitlines()
