"""Several destinations: each gets what the site's rules send there, and none waits for another."""

import json
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest
from scenario import layouts, people
from scenario.days import LONDON, Shape
from scenario.record import RecordServer, free_port

from tests.flow.day import Day, a_day
from tests.flow.test_commands import QUIET, export, held, reports

pytestmark = pytest.mark.service


@pytest.fixture
def research(tmp_path: Path) -> Iterator[RecordServer]:
    with RecordServer(tmp_path / "research") as server:
        for number, person in enumerate(people.EVERYBODY, start=1):
            server.put({**person.patient, "id": f"subject-{number}"})
        yield server


def with_destination(day: Day, text: str) -> Day:
    with day.config.open("a") as settings:
        settings.write(f"\n[[destinations]]\n{text}\n")
    return day


def of_site(content: bytes, site: str) -> bytes:
    return content.replace(b"monitor_model,", f"site,{site}\r\nmonitor_model,".encode(), 1)


def poor(today: date) -> bytes:
    """A recording in which most attempts failed."""
    start = datetime.combine(today - timedelta(days=2), time(9, 0), LONDON)
    shape = Shape(awake=(122, 76, 74), asleep=(106, 62, 60), fails=0.6)
    return layouts.plain(people.MIRO, shape, start, serial="T-2", seed=3)


def everything(server: RecordServer) -> dict[str, list[dict[str, Any]]]:
    return {kind: server.search(kind) for kind in ("Observation", "DiagnosticReport")}


def to(day: Day, name: str) -> dict[str, int]:
    found = {each["destination"]: each for each in day.facts("status")["overview"]["destinations"]}
    return {key: found[name][key] for key in ("done", "waiting", "held")} if name in found else {}


def test_each_destination_gets_its_own_form_under_its_own_patient_and_one_that_is_down_holds_up_none(
    record: RecordServer, research: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    away = RecordServer(tmp_path / "away")
    with_destination(day, f'name = "region"\nurl = "{away.base}"\nreadings = "none"')
    with_destination(
        day,
        f'name = "research"\nurl = "{research.base}"\nreadings = "none"\nreport = "none"\ninterpretation = false',
    )
    day.drop("a.csv", export(today))
    done = day.command("once")
    assert done.returncode == 3, "one server could not be reached"
    assert to(day, "record") == to(day, "research") == {"done": 1, "waiting": 0, "held": 0}
    assert to(day, "region") == {"done": 0, "waiting": 1, "held": 0}
    assert day.counts() == {"partly-delivered": 1}
    kept, studied = everything(record), everything(research)
    assert len(kept["Observation"]) > 30 > len(studied["Observation"]) > 2, "single readings go to the record only"
    assert "presentedForm" in kept["DiagnosticReport"][0]
    assert all("presentedForm" not in report for report in studied["DiagnosticReport"])
    subjects = {item["subject"]["reference"] for item in studied["Observation"]}
    assert len(subjects) == 1 and subjects.pop().startswith("Patient/subject-")
    with away:
        for number, person in enumerate(people.EVERYBODY, start=1):
            away.put({**person.patient, "id": f"regional-{number}"})
        written = record.writes(), research.writes()
        for _ in range(20):  # the waiting one is tried again when it is due
            day.command("once")
            if to(day, "region")["done"]:
                break
        assert to(day, "region") == {"done": 1, "waiting": 0, "held": 0}
        assert len(everything(away)["DiagnosticReport"]) == 1
        assert (record.writes(), research.writes()) == written
    assert day.counts() == {"delivered": 1}
    assert day.command("audit", "verify").returncode == 0


def test_rules_of_the_site_say_which_recordings_go_where(
    record: RecordServer, research: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    with_destination(
        day,
        f'name = "research"\nurl = "{research.base}"\nreadings = "none"\n'
        '[destinations.only]\nsites = ["larkmoor  BRANCH"]\nadequate = true\n',
    )
    day.drop("good.csv", of_site(export(today), "Larkmoor Branch"))
    day.drop("poor.csv", of_site(poor(today), "Larkmoor Branch"))
    start = datetime.combine(today - timedelta(days=3), time(9, 0), LONDON)
    day.drop("main.csv", layouts.plain(people.INES, QUIET, start, serial="T-3", seed=4))
    assert day.command("once").returncode == 0
    assert to(day, "record")["done"] == 3
    assert to(day, "research") == {"done": 1, "waiting": 0, "held": 0}
    (only,) = research.search("DiagnosticReport")
    assert only["subject"]["reference"] == "Patient/subject-1"
    notes = [json.dumps(each["detail"]) for story in stories(day) for each in story["events"]]
    assert sum("research: not-adequate" in note for note in notes) == 1
    assert sum("research: another-site" in note for note in notes) == 1
    shown = day.command("preview", str(next((day.place / "done").glob("main.*.csv")))).stdout
    assert "to record: yes" in shown and "to research: no, another-site" in shown


def stories(day: Day) -> list[Any]:
    entries = (day.place / "audit.jsonl", day.command("audit", "export", "--to", str(day.place / "audit.jsonl")))
    lines = [json.loads(line) for line in entries[0].read_text().splitlines()]
    ids = {line["recording"] for line in lines if line.get("recording")}
    return [day.facts("status", each) for each in sorted(ids)]


def test_a_recording_that_no_destination_takes_is_held_and_goes_on_when_the_rules_are_mended(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    with day.config.open("a") as settings:
        settings.write('\n[destinations.only]\nsites = ["Another Surgery"]\n')
    file = day.drop("a.csv", export(today))
    assert "No record is set up" in day.command("preview", str(file)).stdout
    assert day.command("once").returncode == 1
    (item,) = held(day)
    assert item["reason"] == "no-destination"
    assert record.search("DiagnosticReport") == []
    day.config.write_text(day.config.read_text().replace("Another Surgery", "Larkmoor Surgery"))
    freed = day.command("held", "release", item["id"], "--by", "A. Nurse", "--why", "rules mended")
    assert freed.returncode == 0, freed.stderr
    assert day.command("once").returncode == 0
    assert len(reports(record, people.ADA)) == 1


def test_rules_that_name_what_nobody_described_are_refused_with_every_fault(tmp_path: Path) -> None:
    day = a_day(tmp_path / "day", f"http://127.0.0.1:{free_port()}/fhir")
    with day.config.open("a") as settings:
        settings.write('\n[destinations.only]\nlayouts = ["plane"]\nguidelines = ["nice-ng163"]\nsite = ["x"]\n')
    said = day.command("check").stderr
    assert "destinations.record.only.site" in said
    day.config.write_text(day.config.read_text().replace('site = ["x"]\n', ""))
    said = day.command("check").stderr
    assert "destinations.record.only.layouts: there is no 'plane'; did you mean 'plain'?" in said
    assert "destinations.record.only.guidelines: there is no 'nice-ng163'; did you mean 'nice-ng136'?" in said


def test_a_place_without_a_server_gets_files_that_any_server_takes(
    record: RecordServer, research: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    folder = tmp_path / "handover"
    with_destination(day, f'name = "handover"\nfolder = "{folder}"\nreadings = "none"\nreport_beside = true')
    day.drop("a.csv", export(today))
    assert "MEND  handover: folder" in day.command("check").stdout
    assert day.command("once").returncode == 3
    assert (to(day, "record")["done"], to(day, "handover")["waiting"]) == (1, 1)
    folder.mkdir()
    for _ in range(20):
        day.command("once")
        if to(day, "handover")["done"]:
            break
    (bundle,) = folder.glob("*.json")
    assert (folder / f"{bundle.stem}.pdf").read_bytes().startswith(b"%PDF")
    assert people.ADA.family not in bundle.name + bundle.read_text()
    for _ in range(2):  # taking it twice does no harm
        assert research.post_bundle(json.loads(bundle.read_text())) == 200
    (report,) = research.search("DiagnosticReport")
    assert report["subject"]["identifier"]["value"] == people.ADA.number
    assert day.command("check").returncode == 0
    assert day.command("audit", "verify").returncode == 0


def test_reconcile_finds_what_is_gone_and_brings_it_back(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base)
    day.drop("a.csv", export(today))
    assert day.command("once").returncode == 0
    since = (today - timedelta(days=1)).isoformat()
    well = day.command("reconcile", "--since", since)
    assert (well.returncode, "all as filed" in well.stdout) == (0, True), well.stdout + well.stderr
    (report,) = record.search("DiagnosticReport")
    record.delete("DiagnosticReport", report["id"])
    gone = day.facts("reconcile", "--since", since)["destinations"][0]
    assert [each["fault"] for each in gone["found"][0]["differences"]] == ["missing"]
    assert day.command("reconcile", "--since", since).returncode == 1
    mended = day.command("reconcile", "--since", since, "--destination", "record", "--repair")
    assert mended.returncode == 0, mended.stdout + mended.stderr
    assert f"sent again: DiagnosticReport {report['id']}" in mended.stdout
    assert len(record.search("DiagnosticReport")) == 1
    assert day.command("reconcile", "--since", "2999-01-01").stdout.startswith("record: 0 recordings")
    assert day.command("reconcile", "--since", since, "--destination", "recrod").returncode == 2
    record.stop()
    assert day.command("reconcile", "--since", since).returncode == 3
    assert "reconcile --since 2026-03-01" in day.command("reconcile", "--help").stdout
    assert day.command("audit", "verify").returncode == 0
