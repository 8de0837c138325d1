"""A correction is killed after each of its steps, and ends once all the same; on the independent server."""

import sqlite3
from datetime import date
from pathlib import Path

import pytest
from scenario import people
from scenario.record import RecordServer

from tests.flow.day import Day, a_day, entries, wait_until
from tests.flow.test_correct import one_value_other, readings, report, with_rows, without_last
from tests.flow.test_withdraw import WHY, chart, export

pytestmark = pytest.mark.service


def all_done(day: Day) -> bool:
    """Nothing waits to be worked on or sent."""
    with sqlite3.connect(f"file:{day.store}?mode=ro", uri=True, timeout=5) as connection:
        received = "select count(*) from recordings where state = 'received'"
        return day.idle() and int(connection.execute(received).fetchone()[0]) == 0


def test_a_correction_killed_after_each_of_its_steps_goes_on_and_ends_once(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    """Steps: taken in, read, ready, sending begun, each part, the answer; each is an entry of the audit log."""
    day = a_day(tmp_path / "day", record.base, most_entries=2)
    whole = export(today)
    day.drop("first.csv", with_rows(one_value_other(whole), without_last))
    assert day.command("once").returncode == 0
    before = chart(record, people.ADA)
    day.drop("second.csv", whole)
    assert day.command("once").returncode == 1
    (item,) = day.facts("held", "list")
    assert day.command("held", "release", item["id"], *WHY).returncode == 0
    begun = entries(day.store)
    for step in range(1, 11):
        with day.service() as process:
            wait_until(lambda step=step: entries(day.store) >= begun + step or all_done(day), process)
            process.kill()
            process.wait()
    assert day.command("once").returncode == 0
    after = chart(record, people.ADA)
    assert len(readings(after)) == len(readings(before)) + 1
    assert {each["id"] for each in before} < {each["id"] for each in after}
    moved = [number for number, body in readings(before).items() if readings(after)[number] != body]
    assert len(moved) == 1 and readings(after)[moved[0]]["status"] == "corrected"
    versions = {record.versions(each["resourceType"], each["id"]) for each in after}
    assert versions <= {1, 2}, "written more than once"
    found = record.search("Provenance", target=f"DiagnosticReport/{report(after)['id']}")
    assert sorted(each["activity"]["coding"][0]["code"] for each in found) == ["CREATE", "UPDATE"]
    assert day.counts() == {"delivered": 1, "superseded": 1}
    assert day.command("audit", "verify").returncode == 0
