"""A filed recording that comes again with other content, is made anew, or is signed off; on the independent server.

Sources: FHIR R4 4.0.1, value sets observation-status and diagnostic-report-status (corrected, amended),
DocumentReference.relatesTo "replaces", http.html "managing resource contention" (If-Match).
"""

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from scenario import people
from scenario.record import RecordServer

from tests.flow.day import Day, a_day
from tests.flow.test_withdraw import WHY, chart, export, filed, statuses, the_recording

pytestmark = pytest.mark.service
HEAD, TABLE = b"\r\n\r\n", b"\r\n"


def rows(content: bytes) -> tuple[bytes, list[bytes]]:
    """The block of facts with the header of the table, and the attempts."""
    head, table = content.split(HEAD, 1)
    header, *lines = table.rstrip(TABLE).split(TABLE)
    return head + HEAD + header + TABLE, lines


def with_rows(content: bytes, change: Any) -> bytes:
    head, lines = rows(content)
    return head + TABLE.join(change(lines)) + TABLE


def measured(lines: list[bytes]) -> list[int]:
    """Places of the attempts that gave a pressure."""
    return [at for at, line in enumerate(lines) if b"measured" in line]


def without_last(lines: list[bytes]) -> list[bytes]:
    """Without the last attempt that gave a pressure, and what failed after it."""
    return lines[: measured(lines)[-1]]


def one_value_other(content: bytes) -> bytes:
    def change(lines: list[bytes]) -> list[bytes]:
        at = measured(lines)[3]
        cells = lines[at].split(b",")
        cells[1] = str(int(cells[1]) + 9).encode()
        return [*lines[:at], b",".join(cells), *lines[at + 1 :]]

    return with_rows(content, change)


def held(day: Day) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(day.command("held", "list", "--json").stdout)
    return found


def let_pass(day: Day) -> dict[str, Any]:
    """A named person releases the one thing that is held, and it is filed."""
    (item,) = held(day)
    freed = day.command("held", "release", item["id"], *WHY)
    assert freed.returncode == 0, freed.stderr
    done = day.command("once")
    assert done.returncode == 0, done.stdout + done.stderr
    return item


def readings(found: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    return {each["id"]: each for each in found if each.get("effectiveDateTime")}


def report(found: list[dict[str, Any]]) -> dict[str, Any]:
    (one,) = [each for each in found if each["resourceType"] == "DiagnosticReport"]
    return one


def systolic(body: dict[str, Any]) -> int:
    value: int = body["component"][0]["valueQuantity"]["value"]
    return value


def test_the_story_of_a_correction(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base)
    whole = export(today)
    # the first export was made too early: the last attempts of the day are missing
    day.drop("early.csv", with_rows(whole, without_last))
    assert day.command("once").returncode == 0
    first = the_recording(day)
    before = chart(record, people.ADA)

    # the whole export only adds, and files by itself: same ids, nothing twice
    day.drop("whole.csv", whole)
    done = day.command("once")
    assert done.returncode == 0, done.stdout + done.stderr
    added = chart(record, people.ADA)
    assert len(readings(added)) == len(readings(before)) + 1
    assert {each["id"] for each in before} < {each["id"] for each in added}
    old = readings(before)
    assert all(each["status"] == "final" for each in readings(added).values())
    assert {record.versions("Observation", number) for number in old} == {1}, (
        "what says the same is not written again"
    )
    assert report(added)["status"] == "preliminary", "nobody reviewed it yet"
    assert "Corrected result: it replaces the one of " in report(added)["conclusion"]
    assert day.counts() == {"delivered": 1, "superseded": 1}

    # half an export comes once more: nothing good is taken out of the record, whoever says so
    day.drop("half.csv", with_rows(whole, lambda lines: lines[:20]))
    assert day.command("once").returncode == 1
    (item,) = held(day)
    assert item["reason"] == "recording-partial"
    assert day.command("held", "release", item["id"], *WHY).returncode == 0
    assert day.command("once").returncode == 1
    assert [each["reason"] for each in held(day)] == ["recording-partial"]
    assert day.command("held", "refuse", item["id"], *WHY).returncode == 0
    assert chart(record, people.ADA) == added

    # a value that stood there is another: a named person sees it first
    day.drop("other.csv", one_value_other(whole))
    assert day.command("once").returncode == 1
    (item,) = held(day)
    assert item["reason"] == "recording-changed"
    assert chart(record, people.ADA) == added
    shown = day.command("held", "show", item["id"]).stdout
    assert "what would change" in shown and "mmHg, measured" not in shown
    assert shown.count("  ~ ") >= 1 and " -> " in shown
    let_pass(day)
    after = chart(record, people.ADA)
    assert {each["id"] for each in after} == {each["id"] for each in added}
    moved = {number for number in readings(after) if readings(after)[number] != readings(added)[number]}
    assert len(moved) == 1
    (number,) = moved
    assert systolic(readings(after)[number]) == systolic(readings(added)[number]) + 9
    assert readings(after)[number]["status"] == "corrected"
    assert record.versions("Observation", number) == 2
    found = record.search("Provenance", target=f"DiagnosticReport/{report(after)['id']}")
    assert sorted(each["activity"]["coding"][0]["code"] for each in found) == ["CREATE", "UPDATE", "UPDATE"]
    assert {each["subject"]["reference"] for each in after} == {report(before)["subject"]["reference"]}
    story = day.command("status", item["recording"][:8]).stdout
    assert "A. Nurse" in story and "corrects " in story and "correcting done" in story

    # the same again adds nothing, and a withdrawal takes back all that stands
    day.drop("again.csv", one_value_other(whole).replace(b"\r\n", b"\n"))
    assert day.command("once").returncode == 0
    assert chart(record, people.ADA) == after
    assert day.counts() == {"delivered": 1, "refused": 1, "superseded": 3}
    assert day.command("retract", first[:8], *WHY).returncode == 0
    assert day.command("once").returncode == 0
    assert statuses(chart(record, people.ADA)) == {"entered-in-error": len(after)}
    assert day.command("audit", "verify").returncode == 0
    assert day.command("reconcile", "--since", "2020-01-01").returncode == 0


def test_a_corrected_export_of_the_same_name_is_a_new_version_of_the_same_recording(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    whole = export(today)

    def without_last_two(lines: list[bytes]) -> list[bytes]:
        return lines[: measured(lines)[-2]]

    day.drop("r.csv", with_rows(whole, without_last_two))
    assert day.command("once").returncode == 0
    before = chart(record, people.ADA)
    day.drop("r.csv", one_value_other(whole))
    assert day.command("once").returncode == 1
    assert let_pass(day)["reason"] == "recording-changed"
    after = chart(record, people.ADA)
    assert len(after) == len(before) + 2
    assert {each["id"] for each in before} < {each["id"] for each in after}
    (moved,) = [each for each in readings(before) if readings(before)[each] != readings(after)[each]]
    assert readings(after)[moved]["status"] == "corrected"
    assert record.versions("Observation", moved) == 2, "the old version can still be read"
    assert len(list((day.place / "done").glob("r.*.csv"))) == 2, "both files are kept"
    assert day.counts() == {"delivered": 1, "superseded": 1}


def test_a_reading_that_is_gone_is_entered_in_error_and_only_after_a_person_saw_it(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    whole = export(today)
    day.drop("a.csv", with_rows(whole, without_last))
    day.command("once")
    before = chart(record, people.ADA)

    def without_fifth(lines: list[bytes]) -> list[bytes]:
        at = measured(lines)[4]
        return [*lines[:at], *lines[at + 1 :]]

    day.drop("b.csv", with_rows(whole, without_fifth))
    assert day.command("once").returncode == 1
    (item,) = held(day)
    shown = day.command("held", "show", item["id"]).stdout
    assert shown.count("  - ") == 1 and shown.count("  + ") >= 1
    let_pass(day)
    after = chart(record, people.ADA)
    gone = [each for each in after if each["status"] == "entered-in-error"]
    assert len(gone) == 1 and gone[0]["id"] in readings(before)
    assert len(after) == len(before) + 1
    assert gone[0]["id"] not in json.dumps([each.get("derivedFrom") for each in after])


def test_reprocess_shows_the_differences_first_and_then_amends(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    number = filed(record, day, today)
    before = chart(record, people.ADA)
    same = day.command("reprocess", number[:8], "--dry-run")
    assert (same.returncode, same.stdout) == (0, "Nothing differs from what is filed.\n")
    other = day.config.read_text().replace('guideline = "esc-2024"', 'guideline = "acc-aha-2017"')
    assert other != day.config.read_text()
    day.config.write_text(other)
    dry = day.command("reprocess", number[:8], "--dry-run")
    assert dry.returncode == 0, dry.stderr
    assert "guideline: " in dry.stdout and "to record: 0 entries added, " in dry.stdout
    day.command("once")
    assert chart(record, people.ADA) == before, "a change of settings changes nothing by itself"
    assert day.command("reprocess", number[:8]).returncode == 2
    done = day.command("reprocess", number[:8], *WHY)
    assert done.returncode == 0, done.stderr
    assert day.command("once").returncode == 0
    after = chart(record, people.ADA)
    assert {each["id"] for each in after} == {each["id"] for each in before}
    assert statuses(after).keys() <= {"final", "amended", "corrected", "preliminary"}
    assert "amended" in statuses(after)
    assert {record.versions("Observation", each) for each in readings(before)} == {1}
    assert day.command("reprocess", number[:8], "--dry-run").stdout == "Nothing differs from what is filed.\n"
    assert "had the result made anew" in day.command("status", number[:8]).stdout


def test_sign_off_makes_the_report_final_and_changes_no_number(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    number = filed(record, day, today)
    before = chart(record, people.ADA)
    signed = day.command("sign-off", number[:8], "--by", "Dr A. Example")
    assert signed.returncode == 0, signed.stderr
    assert day.command("once").returncode == 0
    after = chart(record, people.ADA)
    assert report(after)["status"] == "final"
    assert "not yet reviewed" not in report(after)["conclusion"]
    assert report(after)["resultsInterpreter"] == [{"display": "Dr A. Example"}]
    assert [each for each in after if each["resourceType"] == "Observation"] == [
        each for each in before if each["resourceType"] == "Observation"
    ]
    again = day.command("sign-off", number[:8], "--by", "Dr A. Example")
    assert again.returncode == 2 and "signed off already" in again.stderr
