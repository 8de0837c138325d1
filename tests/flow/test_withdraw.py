"""A recording in the wrong chart: taken back, told of, filed again; on the independent record server."""

import json
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest
from scenario import layouts, people
from scenario.days import LONDON, Shape
from scenario.record import RecordServer

from tests.flow.day import Day, a_day, entries, wait_until
from tests.integration.proxy import Fault, Proxy, say

pytestmark = pytest.mark.service
QUIET = Shape(awake=(122, 76, 74), asleep=(106, 62, 60))
WHY = ("--why", "the monitor still held the person before", "--by", "A. Nurse")


def export(today: date, who: people.Someone = people.ADA) -> bytes:
    start = datetime.combine(today - timedelta(days=2), time(9, 0), LONDON)
    return layouts.plain(who, QUIET, start, serial="T-1", seed=1)


def chart(record: RecordServer, who: people.Someone) -> list[dict[str, Any]]:
    """Everything of blood pressure in one person's record."""
    (patient,) = record.search("Patient", identifier=f"{people.NHS}|{who.number}")
    subject = f"Patient/{patient['id']}"
    return [each for kind in ("DiagnosticReport", "Observation") for each in record.search(kind, subject=subject)]


def statuses(found: list[dict[str, Any]]) -> dict[str, int]:
    counted: dict[str, int] = {}
    for each in found:
        counted[each["status"]] = counted.get(each["status"], 0) + 1
    return counted


def the_recording(day: Day) -> str:
    trail = day.place / "audit.jsonl"
    day.command("audit", "export", "--to", str(trail))
    kinds = [json.loads(line) for line in trail.read_text().splitlines()]
    found: str = next(each["recording"] for each in kinds if each["kind"] == "received")
    return found


def filed(record: RecordServer, day: Day, today: date) -> str:
    day.drop("a.csv", export(today))
    done = day.command("once")
    assert done.returncode == 0, done.stdout + done.stderr
    return the_recording(day)


def test_a_withdrawn_recording_is_entered_in_error_everywhere_in_the_same_chart(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    number = filed(record, day, today)
    before = chart(record, people.ADA)
    said = day.command("retract", number[:8], *WHY)
    assert said.returncode == 0, said.stderr
    assert day.command("once").returncode == 0
    after = chart(record, people.ADA)
    assert statuses(after) == {"entered-in-error": len(before)}
    assert {each["id"]: each["subject"] for each in after} == {each["id"]: each["subject"] for each in before}
    assert {record.versions(each["resourceType"], each["id"]) for each in after} == {2}
    (report,) = [each for each in after if each["resourceType"] == "DiagnosticReport"]
    assert report["conclusion"].startswith("Withdrawn.\nThis result was withdrawn on ")
    (form,) = report["presentedForm"]
    assert form["title"] == "Withdrawn"
    found = record.search("Provenance", target=f"DiagnosticReport/{report['id']}")
    assert sorted(each["activity"]["coding"][0]["code"] for each in found) == ["CREATE", "NULLIFY"]
    assert day.counts() == {"retracted": 1}
    assert day.command("audit", "verify").returncode == 0


def test_the_notice_lies_there_until_it_is_acknowledged(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base)
    number = filed(record, day, today)
    day.command("retract", number[:8], *WHY)
    assert day.command("retract", "acknowledge", number[:8], "--by", "Dr A. Example").returncode == 2
    assert day.command("retract", "list").returncode == 1
    day.command("once")
    lying = day.place / "held" / f"withdrawn-{number[:8]}.txt"
    text = lying.read_text(encoding="utf-8")
    assert text == day.command("retract", "notice", number[:8]).stdout
    assert "could be seen from" in text and "NOT WITHDRAWN YET" not in text
    assert "It has not been filed again" in text
    assert people.ADA.family not in text and people.ADA.number not in text
    assert day.command("retract", "acknowledge", number[:8], "--by", "Dr A. Example").returncode == 0
    assert day.command("retract", "acknowledge", number[:8], "--by", "Dr B. Example").returncode == 2
    assert day.command("retract", "list").returncode == 0
    day.command("once")
    assert not lying.exists()
    story = day.command("status", number[:8]).stdout
    assert "Dr A. Example" in story and "acknowledged" in story


def test_a_wrong_withdrawal_is_filed_again_for_the_same_person_as_something_new(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    number = filed(record, day, today)
    first = chart(record, people.ADA)
    day.command("retract", number[:8], *WHY)
    assert day.command("held", "release", number[:8], "--why", "too early", "--by", "A. Nurse").returncode == 2
    day.command("once")
    day.drop("again.csv", export(today))
    assert day.command("once").returncode == 1
    (item,) = json.loads(day.command("held", "list", "--json").stdout)
    assert item["reason"] == "withdrawn-before"
    assert statuses(chart(record, people.ADA)) == {"entered-in-error": len(first)}
    freed = day.command("held", "release", number[:8], "--why", "it was right after all", "--by", "A. Nurse")
    assert freed.returncode == 0, freed.stderr
    assert day.command("once").returncode == 0
    after = chart(record, people.ADA)
    assert statuses(after) == {
        "entered-in-error": len(first),
        "final": len(first) - 1,
        "preliminary": 1,
    }
    assert len({each["id"] for each in after}) == 2 * len(first)
    assert day.counts() == {"delivered": 1}
    assert "Filed again since" in day.command("retract", "notice", number[:8]).stdout
    # a second withdrawal needs a second release
    day.command("retract", number[:8], *WHY)
    day.command("once")
    assert statuses(chart(record, people.ADA)) == {"entered-in-error": 2 * len(first)}
    day.drop("third.csv", export(today))
    assert day.command("once").returncode == 1
    assert json.loads(day.command("held", "list", "--json").stdout)[0]["reason"] == "withdrawn-before"


def test_another_export_of_a_withdrawn_recording_is_held(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base)
    number = filed(record, day, today)
    count = len(chart(record, people.ADA))
    day.command("retract", number[:8], *WHY)
    day.command("once")
    day.drop("b.csv", export(today).replace(b",left\r\n", b",right\r\n"))
    assert day.command("once").returncode == 1
    (item,) = json.loads(day.command("held", "list", "--json").stdout)
    assert (item["reason"], number[:8] in item["sentence"]) == ("withdrawn-before", True)
    assert day.command("held", "release", item["id"], "--why", "right export", "--by", "A. Nurse").returncode == 0
    assert day.command("once").returncode == 0
    assert statuses(chart(record, people.ADA)) == {"entered-in-error": count, "final": count - 1, "preliminary": 1}


def test_what_was_not_sent_yet_is_only_cancelled(record: RecordServer, tmp_path: Path, today: date) -> None:
    from scenario.record import free_port

    day = a_day(tmp_path / "day", f"http://127.0.0.1:{free_port()}/fhir")
    day.drop("a.csv", export(today))
    assert day.command("once").returncode == 3
    number = the_recording(day)
    said = day.command("retract", number[:8], *WHY)
    assert "cancelled" in said.stdout, said.stderr
    assert day.counts() == {"refused": 1}
    assert day.command("retract", number[:8], *WHY).returncode == 2


def test_the_wrong_chart_is_cleared_and_the_right_one_gets_the_result(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    """Ada's name and number were on Miro's recording: nobody can see that in the file."""
    day = a_day(tmp_path / "day", record.base)
    number = filed(record, day, today)
    count = len(chart(record, people.ADA))
    day.command("retract", number[:8], *WHY)
    day.drop("right.csv", export(today, people.MIRO))
    assert day.command("once").returncode == 1, "as long as they stand in the other chart, they are not filed beside"
    (item,) = json.loads(day.command("held", "list", "--json").stdout)
    assert item["reason"] == "readings-of-other"
    assert day.command("held", "release", item["id"], *WHY).returncode == 0
    assert day.command("once").returncode == 0
    assert statuses(chart(record, people.ADA)) == {"entered-in-error": count}
    assert statuses(chart(record, people.MIRO)) == {"final": count - 1, "preliminary": 1}


def test_a_record_that_refuses_leaves_a_list_of_what_is_withdrawn_and_what_not(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    with Proxy(record.base) as proxy:
        day = a_day(tmp_path / "day", proxy.base, most_entries=20)
        number = filed(record, day, today)
        count = len(chart(record, people.ADA))
        day.command("retract", number[:8], *WHY)
        proxy.faults.append(Fault(say(422), skip=1, times=99))
        assert day.command("once").returncode == 1
        found = statuses(chart(record, people.ADA))
        assert found["entered-in-error"] == 20
        listed = day.command("retract", "list")
        assert listed.returncode == 1
        assert "withdrawn: 1 DiagnosticReport, 19 Observation" in listed.stdout
        assert f"STILL STANDING ({count - 20}): Observation/" in listed.stdout
        assert f"STILL STANDING ({count - 20})" in day.command("status", number[:8]).stdout
        assert "NOT WITHDRAWN YET" in day.command("retract", "notice", number[:8]).stdout
        (item,) = json.loads(day.command("held", "list", "--json").stdout)
        assert day.command("held", "refuse", item["id"], *WHY).returncode == 2, "only finished"
        proxy.faults.clear()
        assert day.command("held", "release", item["id"], *WHY).returncode == 0
        assert day.command("once").returncode == 0
        assert statuses(chart(record, people.ADA)) == {"entered-in-error": count}
        assert "STILL STANDING" not in day.command("retract", "list").stdout


def test_what_somebody_changed_in_the_record_meanwhile_is_not_overwritten_unseen(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    number = filed(record, day, today)
    (report,) = [each for each in chart(record, people.ADA) if each["resourceType"] == "DiagnosticReport"]
    record.put({**report, "conclusion": "Seen and discussed."})
    day.command("retract", number[:8], *WHY)
    assert day.command("once").returncode == 1
    (item,) = json.loads(day.command("held", "list", "--json").stdout)
    assert item["reason"] == "record-conflict"
    assert "entered-in-error" not in statuses(chart(record, people.ADA))
    day.command("held", "release", item["id"], *WHY)
    assert day.command("once").returncode == 0
    assert set(statuses(chart(record, people.ADA))) == {"entered-in-error"}


def test_a_withdrawal_killed_after_each_of_its_steps_goes_on_and_ends_once(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    """Steps: the decision, sending begun, each part, the answer; each is an entry of the audit log."""
    day = a_day(tmp_path / "day", record.base, most_entries=20)
    number = filed(record, day, today)
    before = chart(record, people.ADA)
    day.command("retract", number[:8], *WHY)
    begun = entries(day.store)
    for step in range(1, 9):
        with day.service() as process:
            wait_until(lambda step=step: entries(day.store) >= begun + step or day.idle(), process)
            process.kill()
            process.wait()
    assert day.command("once").returncode in (0, 1)
    after = chart(record, people.ADA)
    assert statuses(after) == {"entered-in-error": len(before)}
    assert {record.versions(each["resourceType"], each["id"]) for each in after} == {2}, "written more than once"
    (report,) = [each for each in after if each["resourceType"] == "DiagnosticReport"]
    found = record.search("Provenance", target=f"DiagnosticReport/{report['id']}")
    assert sorted(each["activity"]["coding"][0]["code"] for each in found) == ["CREATE", "NULLIFY"]
    assert day.counts() == {"retracted": 1}
    assert (day.place / "held" / f"withdrawn-{number[:8]}.txt").exists()
    assert day.command("audit", "verify").returncode == 0


def test_the_same_file_is_filed_again_for_the_person_whom_somebody_names(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    """From filing in the wrong chart to the right one, told in the trail and in the notice."""
    day = a_day(tmp_path / "day", record.base)
    number = filed(record, day, today)
    count = len(chart(record, people.ADA))
    whose = ("--number", people.MIRO.number, "--birth-date", people.MIRO.born.isoformat())
    assert day.command("held", "release", number[:8], *whose, *WHY).returncode == 2, "not before it is withdrawn"
    day.command("retract", number[:8], *WHY)
    assert day.command("held", "release", number[:8], *whose, *WHY).returncode == 2, "nor before every record gave it"
    assert day.command("once").returncode == 0
    assert day.command("held", "release", number[:8], *whose, *WHY).returncode == 0
    assert day.command("once").returncode == 0
    assert statuses(chart(record, people.ADA)) == {"entered-in-error": count}
    assert statuses(chart(record, people.MIRO)) == {"final": count - 1, "preliminary": 1}
    assert day.counts() == {"delivered": 1}
    notice = day.command("retract", "notice", number[:8]).stdout
    charts = [
        record.search("Patient", identifier=f"{people.NHS}|{who.number}")[0]["id"]
        for who in (people.ADA, people.MIRO)
    ]
    assert all(f"Patient/{each}" in notice for each in charts)
    assert "until then whoever treats this person could not see it" in notice


def test_what_was_handed_over_as_a_file_is_taken_back_there_too(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    out = tmp_path / "out"
    out.mkdir()
    more = f'\n[[destinations]]\nname = "region"\nfolder = "{out}"\nreadings = "valid"\n'
    day.config.write_text(day.config.read_text() + more)
    number = filed(record, day, today)
    (file,) = out.glob("*.json")
    day.command("retract", number[:8], *WHY)
    done = day.command("once")
    assert done.returncode == 0, done.stdout
    resources = [entry["resource"] for entry in json.loads(file.read_text())["entry"]]
    gone = {each["status"] for each in resources if each["resourceType"] in ("DiagnosticReport", "Observation")}
    assert gone == {"entered-in-error"}
    assert "by the person's number" in day.command("retract", "notice", number[:8]).stdout
    assert day.counts() == {"retracted": 1}
