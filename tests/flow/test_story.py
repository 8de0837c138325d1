"""`status RECORDING` tells the story of one recording from file to record, with who decided what."""

from datetime import date, timedelta
from pathlib import Path

import pytest
from scenario import people
from scenario.record import RecordServer

from tests.flow.day import a_day
from tests.flow.test_naming import held, worn

pytestmark = pytest.mark.service
BY = ("--by", "A. Nurse")
ORDERS = """
[destinations.orders]
codes = ["http://snomed.info/sct|164783007"]
"""


def test_the_story(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.config.write_text(day.config.read_text() + ORDERS)
    (found,) = record.search("Patient", identifier=f"{people.NHS}|{people.ADA.number}")
    order = {
        "resourceType": "ServiceRequest",
        "id": "order-of-the-story",
        "status": "active",
        "intent": "order",
        "code": {"coding": [{"system": "http://snomed.info/sct", "code": "164783007"}]},
        "subject": {"reference": f"Patient/{found['id']}"},
    }
    record.put(order)
    day.command("expect", "add", "--monitor", "T-1", "--number", people.INES.number, "--from", "2020-01-01", *BY)
    day.drop("a.csv", worn(today, 2, people.ADA, seed=1))
    assert day.command("once").returncode == 1
    item = held(day)
    assert day.command("held", "release", item["id"], *BY, "--why", "the list was wrong").returncode == 0
    assert day.command("once").returncode == 0
    number = item["recording"]
    day.command("retract", number, "--by", "Dr A. Example", "--why", "taken for somebody else's")
    assert day.command("once").returncode == 0
    same = day.command("reconcile", "--since", f"{today - timedelta(days=1)}")
    assert same.returncode == 0, same.stdout  # without its order, as it was written
    assert day.command("held", "release", number, *BY, "--why", "it was hers after all").returncode == 0
    assert day.command("once").returncode == 0
    story = day.command("status", number).stdout
    print(story)
    steps = [
        "the file came in and was stored unchanged",
        "it was held: By the list of expected recordings the monitor was out to somebody else.",
        "A. Nurse released it, letting 'monitor-out-to-other' pass: the list was wrong",
        "the result was made and put into the queue",
        "filing began",
        "into the record",
        "everything is in the record and was read back",
        "Dr A. Example took it back: taken for somebody else's",
        "withdrawing began",
        "everything that was filed is withdrawn, and was read back",
        "A. Nurse released it, letting 'withdrawn-before' pass: it was hers after all",
        "the result was made and put into the queue",
        "everything is in the record and was read back",
    ]
    at = 0
    for step in steps:
        at = story.index(step, at) + len(step)
    assert story.count(f"order ServiceRequest/{order['id']}") == 2  # free again after the withdrawal
    assert "['" not in story and people.ADA.family not in story
