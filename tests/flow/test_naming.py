"""The last person still in the monitor: number, birth date and name are all right, only not this patient's."""

import json
from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest
from scenario import layouts, people
from scenario.days import LONDON, Shape
from scenario.record import RecordServer

from tests.flow.day import Day, a_day

QUIET = Shape(awake=(122, 76, 74), asleep=(106, 62, 60))
pytestmark = pytest.mark.service


def worn(today: date, days_ago: int, who: people.Someone, seed: int) -> bytes:
    start = datetime.combine(today - timedelta(days=days_ago), time(9, 0), LONDON)
    return layouts.plain(who, QUIET, start, serial="T-1", seed=seed)


def results(record: RecordServer, who: people.Someone) -> int:
    (found,) = record.search("Patient", identifier=f"{people.NHS}|{who.number}")
    return len(record.search("DiagnosticReport", subject=f"Patient/{found['id']}"))


def held(day: Day) -> dict[str, str]:
    (item,) = json.loads(day.command("held", "list", "--json").stdout)
    return item


def test_the_next_patient_measured_under_the_last_ones_name_reaches_the_right_record_only(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("first.csv", worn(today, 6, people.ADA, seed=1))
    assert day.command("once").returncode == 0
    day.drop("second.csv", worn(today, 2, people.ADA, seed=2))  # it was Ines who wore it
    assert day.command("once").returncode == 1
    item = held(day)
    assert item["reason"] == "person-again"
    shown = day.command("held", "show", item["id"]).stdout
    assert "the same person" in shown and "T-1" in shown and "pressures that stand in both" in shown

    decide = ("--by", "A. Nurse", "--why", "appointment book")
    wrong = day.command("held", "release", item["id"], "--number", "9990000035", *decide)
    assert wrong.returncode == 2 and "check digit" in wrong.stderr
    unconfirmed = day.command("held", "release", item["id"], "--number", people.INES.number, *decide)
    assert unconfirmed.returncode == 0, unconfirmed.stderr
    assert day.command("once").returncode == 1  # the birth date in the file is still Ada's
    item = held(day)
    assert item["reason"] == "person-mismatch" and results(record, people.INES) == 0

    born = people.INES.born.isoformat()
    named = ("--number", "999 000 0034", "--birth-date", born, *decide)
    assert day.command("held", "release", item["id"], *named).returncode == 0
    assert day.command("once").returncode == 0
    assert (results(record, people.ADA), results(record, people.INES)) == (1, 1)
    story = day.command("status", item["recording"]).stdout
    assert f"A. Nurse replaced {people.ADA.number} by {people.INES.number}: appointment book" in story
    again = day.command("held", "release", item["recording"], *named)
    assert again.returncode != 0  # nothing of it is held any more
    assert day.command("audit", "verify").returncode == 0


def test_the_same_readings_under_another_number_are_held_and_never_filed_beside(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("first.csv", worn(today, 3, people.ADA, seed=1))
    assert day.command("once").returncode == 0
    day.drop("copy.csv", worn(today, 3, people.INES, seed=1))
    assert day.command("once").returncode == 1
    item = held(day)
    shown = day.command("held", "show", item["id"]).stdout
    assert item["reason"] == "readings-of-other"
    assert "another person" in shown
    assert people.ADA.number not in shown and people.ADA.family not in shown
    assert day.command("held", "refuse", item["id"], "--by", "A. Nurse", "--why", "wrong name").returncode == 0
    assert (results(record, people.ADA), results(record, people.INES)) == (1, 0)
