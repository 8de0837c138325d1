"""A list of who has which monitor, and a monitor that was still set for the last person."""

from datetime import date, timedelta
from pathlib import Path

import pytest
from scenario import people
from scenario.record import RecordServer

from tests.flow.day import Day, a_day
from tests.flow.test_naming import results, worn

pytestmark = pytest.mark.service
BY = ("--by", "A. Nurse")


def held(day: Day) -> list[str]:
    return [each["reason"] for each in day.facts("held", "list")]


def expect(day: Day, who: people.Someone, since: str) -> None:
    done = day.command("expect", "add", "--monitor", "t-1", "--number", who.number, "--from", since, *BY)
    assert done.returncode == 0, done.stderr


def test_a_monitor_that_was_out_to_somebody_else_is_held_and_goes_on_when_the_list_is_put_right(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    bookings = tmp_path / "bookings.csv"
    since = today - timedelta(days=2)
    bookings.write_text(f"monitor,number,from,until\nT-1,{people.INES.number},{since},\nT-1,9990000019,{since},\n")
    refused = day.command("expect", "load", str(bookings), *BY)
    assert refused.returncode == 2 and "line 3: form or check digit" in refused.stderr
    assert "Nobody is on the list." in day.command("expect", "list").stdout  # with a fault nothing is taken

    bookings.write_text(f"monitor,number,from,until\nT-1,{people.INES.number},{since},\n")
    assert day.command("expect", "load", str(bookings), *BY).returncode == 0
    day.drop("a.csv", worn(today, 2, people.ADA, seed=1))
    assert day.command("once").returncode == 1
    assert held(day) == ["monitor-out-to-other"]
    (item,) = day.facts("held", "list")
    assert people.INES.number not in day.command("held", "show", item["id"]).stdout
    assert results(record, people.ADA) == results(record, people.INES) == 0

    line = day.command("expect", "list").stdout
    assert people.INES.number in line and "A. Nurse" in line
    assert day.command("expect", "remove", line.split()[0], *BY).returncode == 0
    expect(day, people.ADA, f"{since}T08:30")
    assert day.command("held", "release", item["id"], *BY, "--why", "list was wrong").returncode == 0
    assert day.command("once").returncode == 0
    assert day.counts() == {"delivered": 1}
    assert day.command("audit", "verify").returncode == 0


def test_a_second_recording_that_the_list_expects_is_filed_and_one_that_it_does_not_expect_is_held(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("first.csv", worn(today, 9, people.ADA, seed=1))
    assert day.command("once").returncode == 0
    expect(day, people.ADA, f"{today - timedelta(days=6)}T09:20")  # booked for twenty past nine, fitted at nine
    day.drop("second.csv", worn(today, 6, people.ADA, seed=2))
    assert day.command("once").returncode == 0, held(day)
    assert results(record, people.ADA) == 2

    expect(day, people.INES, f"{today - timedelta(days=3)}")
    day.drop("third.csv", worn(today, 2, people.ADA, seed=3))  # Ada is still set in the monitor
    assert day.command("once").returncode == 1
    assert held(day) == ["monitor-out-to-other"]
    (item,) = day.facts("held", "list")
    named = ("--number", people.INES.number, "--birth-date", people.INES.born.isoformat())
    freed = day.command("held", "release", item["id"], *named, *BY, "--why", "the list has Ines")
    assert freed.returncode == 0, freed.stderr
    assert day.command("once").returncode == 0, held(day)
    assert (results(record, people.ADA), results(record, people.INES)) == (2, 1)
