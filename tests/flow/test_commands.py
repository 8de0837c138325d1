"""The commands as IT and nurses use them, against a real record server."""

import json
import os
import time as time_module
from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest
from scenario import layouts, people
from scenario.days import LONDON, Shape
from scenario.record import RecordServer, free_port

from tests.flow.day import Day, a_day, wait_until

QUIET = Shape(awake=(122, 76, 74), asleep=(106, 62, 60))
pytestmark = pytest.mark.service


def export(today: date, who: people.Someone = people.ADA) -> bytes:
    start = datetime.combine(today - timedelta(days=2), time(9, 0), LONDON)
    number = people.EVERYBODY.index(who) + 1  # each person has a monitor and values of their own
    return layouts.plain(who, QUIET, start, serial=f"T-{number}", seed=number)


def reports(record: RecordServer, who: people.Someone) -> list[dict[str, object]]:
    found = record.search("Patient", identifier=f"{people.NHS}|{who.number}")
    return [each for one in found for each in record.search("DiagnosticReport", subject=f"Patient/{one['id']}")]


def held(day: Day) -> list[dict[str, str]]:
    return json.loads(day.command("held", "list", "--json").stdout)


def test_once_files_the_inbox_and_says_so(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("a.csv", export(today))
    done = day.command("once")
    assert (done.returncode, done.stdout.split(",")[0]) == (0, "1 taken in"), done.stderr
    assert len(reports(record, people.ADA)) == 1
    assert day.counts() == {"delivered": 1}
    assert not list((day.place / "inbox").iterdir())


def test_the_same_bytes_under_another_name_are_filed_once(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("a.csv", export(today))
    day.command("once")
    written = record.writes()
    day.drop("b.csv", export(today))
    done = day.command("once")
    assert done.returncode == 0
    assert record.writes() == written
    assert [path.name.split(".")[0] for path in (day.place / "done").glob("*.why.txt")] == ["b"]


def test_an_unreachable_record_keeps_the_work_and_exits_with_3(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", f"http://127.0.0.1:{free_port()}/fhir")
    day.drop("a.csv", export(today))
    assert day.command("once").returncode == 3
    assert day.counts() == {"delivering": 1}
    assert day.command("check").returncode == 3


def test_an_unknown_person_is_held_and_filed_after_registration_and_release(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("oda.csv", export(today, people.ODA))
    assert day.command("once").returncode == 1
    (item,) = held(day)
    assert item["reason"] == "person-not-found"
    assert people.ODA.family not in json.dumps(item)
    (note,) = (day.place / "held").glob("oda.*.record.why.txt")
    assert "nobody with this number" in note.read_text()
    shown = day.command("held", "show", item["id"][:8])
    assert "register the person first" in shown.stdout
    record.put({**people.ODA.patient, "id": "larkmoor-oda"})
    freed = day.command("held", "release", item["id"][:8], "--by", "A. Nurse", "--why", "registered now")
    assert freed.returncode == 0, freed.stderr
    assert day.command("once").returncode == 0
    assert len(reports(record, people.ODA)) == 1
    assert not note.exists()
    story = day.command("status", item["recording"][:8]).stdout
    assert "A. Nurse" in story
    assert "everything is in the record" in story


def test_a_changed_copy_of_a_filed_recording_is_held_never_filed_beside(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("a.csv", export(today))
    day.command("once")
    day.drop("a.csv", export(today).replace(b",left\r\n", b",right\r\n"))
    assert day.command("once").returncode == 1
    assert [item["reason"] for item in held(day)] == ["recording-changed"]
    assert len(reports(record, people.ADA)) == 1


def test_a_refused_recording_is_never_filed_and_its_file_is_kept(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("wrong.csv", export(today).replace(b"identifier,9990000018", b"identifier,9990000019"))
    day.command("once")
    (item,) = held(day)
    assert day.command("held", "refuse", item["id"], "--by", "A. Nurse", "--why", "wrong file").returncode == 0
    assert held(day) == []
    assert day.command("once").returncode == 0
    assert day.counts() == {"refused": 1}
    assert list((day.place / "held").iterdir()) == []
    assert len(list((day.place / "done").glob("wrong.*"))) == 1
    assert day.command("audit", "verify").returncode == 0


def test_a_file_that_cannot_be_moved_holds_up_no_other_and_fills_no_log(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("a.csv", export(today))
    day.command("once")
    with day.service() as process:
        wait_until(lambda: b"started" in (day.place / "service.log").read_bytes(), process)
        (day.place / "done").rename(day.place / "done-away")
        (day.place / "done").touch()  # a file where the folder was: nothing can be moved there
        stuck = day.drop("stuck.csv", export(today))  # seen before: it would go to `done`
        time_module.sleep(1.5)
        day.drop("b.csv", export(today, people.MIRO))
        wait_until(lambda: len(reports(record, people.MIRO)) == 1, process)
    assert stuck.exists()
    trail = day.place / "audit.jsonl"
    day.command("audit", "export", "--to", str(trail))
    assert trail.read_text().count('"seen-again"') == 1


def test_a_name_that_is_no_text_is_taken_like_any_other(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base)
    odd = os.fsencode(day.place / "inbox") + b"/M\xfcller.csv"
    with open(odd, "wb") as file:  # noqa: PTH123  (the name is bytes)
        file.write(export(today))
    done = day.command("once")
    assert (done.returncode, done.stderr.count("Traceback")) == (0, 0), done.stderr
    assert len(reports(record, people.ADA)) == 1
    assert not list((day.place / "inbox").iterdir())


def test_what_the_user_names_wrongly_is_told_in_words(record: RecordServer, tmp_path: Path) -> None:
    day = a_day(tmp_path / "day", record.base)
    for words in (["audit", "verify"], ["once", "nothere.csv"], ["audit", "export", "--to", str(day.config)]):
        done = day.command(*words)
        assert done.returncode == 2, words
        assert "Traceback" not in done.stderr
        assert done.stderr.strip()


def test_a_decision_needs_a_name_and_a_reason(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("wrong.csv", export(today).replace(b"identifier,9990000018", b"identifier,9990000019"))
    day.command("once")
    (item,) = held(day)
    assert day.command("held", "release", item["id"], "--by", " ", "--why", "x").returncode == 2
    assert day.command("held", "release", "ffff", "--by", "A. Nurse", "--why", "x").returncode == 2
    assert len(held(day)) == 1


def test_a_second_service_on_the_same_state_is_refused(record: RecordServer, tmp_path: Path) -> None:
    day = a_day(tmp_path / "day", record.base)
    with day.service() as process:
        wait_until(lambda: day.store.exists() and day.facts("status")["health"], process)
        done = day.command("once")
    assert done.returncode == 2
    assert "already working" in done.stderr


def test_every_command_has_help_with_an_example_and_loads_no_tables(tmp_path: Path) -> None:
    import subprocess
    import sys

    commands = [
        ["run"], ["once"], ["preview"], ["check"], ["status"], ["export"],
        ["held", "list"], ["held", "show"], ["held", "release"], ["held", "refuse"],
        ["guideline", "list"], ["guideline", "show"], ["audit", "verify"], ["audit", "export"],
    ]  # fmt: skip
    code = (
        "import sys; from typer.testing import CliRunner; from gateway.cli import app\n"
        f"for words in {commands!r}:\n"
        "    done = CliRunner().invoke(app, [*words, '--help'])\n"
        "    assert done.exit_code == 0 and 'Example: bp-gateway' in done.output, (words, done.output)\n"
        "assert not {'pandas', 'numpy', 'sqlalchemy', 'requests'} & set(sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=tmp_path, timeout=60)


def test_wrong_settings_are_all_told_at_once(tmp_path: Path) -> None:
    place = tmp_path / "day"
    place.mkdir()
    config = place / "gateway.toml"
    config.write_text('[site]\ntimezone = "Mars/Olympus"\nguidelin = "x"\n')
    done = Day(place, config).command("status")
    assert done.returncode == 2
    assert "timezone" in done.stderr
    assert "did you mean 'guideline'" in done.stderr
    assert "Traceback" not in done.stderr
