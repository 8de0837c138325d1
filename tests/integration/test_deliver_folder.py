"""A folder as destination, on a real disk: whole or not at all, the same when written again, never over another's."""

import json
import signal
import subprocess
import sys
import textwrap
import time
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from gateway.deliver import Folder
from gateway.fhir import pack
from gateway.model import Delivered, Filed, HoldReason, Rejected, TryLater
from gateway.settings.handing import FolderDestination
from tests.integration.parcels import PERSON, a_parcel

RECORDING, SERIAL = "0f1e2d3c-0000-4000-8000-000000000001", "EX-1"
DAY = date(2026, 3, 5)


def a_folder(place: Path, **more: Any) -> Folder:
    chosen = {"name": "region", "folder": place, "readings": "valid", **more}
    return Folder(FolderDestination.model_validate(chosen), lambda bundle: ())


class Ledger(dict[str, Filed]):
    def note(self, way: object, rows: Any) -> None:
        self.update({row.resource_id: row for row in rows})


def filed(folder: Folder, ledger: Ledger, parcel: Any = None, **more: Any) -> Any:
    return folder.file(parcel or a_parcel(RECORDING, serial=SERIAL), None, dict(ledger), ledger.note, **more)


@pytest.fixture
def place(tmp_path: Path) -> Path:
    folder = tmp_path / "out"
    folder.mkdir()
    return folder


def test_one_file_for_a_recording_named_by_its_opaque_number_with_the_person_by_number(place: Path) -> None:
    ledger = Ledger()
    answer = filed(a_folder(place), ledger)
    assert answer == Delivered(patient=None, count=10)
    (file,) = place.iterdir()
    assert file.name == f"{RECORDING}.json"
    assert file.stat().st_mode & 0o007 == 0, "nobody else may read it"
    bundle = json.loads(file.read_text())
    assert (bundle["resourceType"], bundle["type"], len(bundle["entry"])) == ("Bundle", "transaction", 10)
    subjects = {json.dumps(e["resource"]["subject"]) for e in bundle["entry"] if "subject" in e["resource"]}
    assert [json.loads(each)["identifier"]["value"] for each in subjects] == [PERSON.identifier.value]  # type: ignore[union-attr]
    assert len(ledger) == 10
    assert [each.name for each in place.iterdir()] == [file.name], "nothing unfinished is left"


def test_numbers_are_named_as_the_destination_names_them(place: Path) -> None:
    system = PERSON.identifier.system  # type: ignore[union-attr]
    filed(a_folder(place, identifier_systems={system: "urn:oid:2.999.7"}), Ledger())
    text = next(place.iterdir()).read_text()
    assert "urn:oid:2.999.7" in text and f'"{system}"' not in text


def test_writing_again_changes_nothing_and_what_was_fetched_is_not_written_a_second_time(place: Path) -> None:
    folder, ledger = a_folder(place), Ledger()
    filed(folder, ledger)
    (file,) = place.iterdir()
    before = (file.stat().st_mtime_ns, file.stat().st_ino)
    assert filed(folder, Ledger(), uncertain=True) == Delivered(patient=None, count=10, uncertain_before=True)
    assert (file.stat().st_mtime_ns, file.stat().st_ino) == before, "the same bytes are left as they are"
    file.unlink()
    assert filed(folder, ledger) == Delivered(patient=None, count=10, unchanged=10)
    assert list(place.iterdir()) == []


def test_what_we_did_not_write_is_never_overwritten(place: Path) -> None:
    target = place / f"{RECORDING}.json"
    target.write_text("another program's")
    answer = filed(a_folder(place), Ledger())
    assert isinstance(answer, Rejected) and answer.hold.reason is HoldReason.RECORD_CONFLICT
    assert target.read_text() == "another program's"


def test_a_later_form_takes_the_place_of_ours_but_not_of_one_that_was_changed(place: Path) -> None:
    folder, ledger = a_folder(place), Ledger()
    filed(folder, ledger)
    target = place / f"{RECORDING}.json"
    later = a_parcel(RECORDING, serial="EX-1b")
    assert isinstance(filed(folder, ledger, later), Delivered)
    assert "EX-1b" in target.read_text()
    target.write_text(target.read_text() + " ")
    assert isinstance(filed(folder, ledger), Rejected)


def test_a_link_in_the_place_of_the_file_is_not_followed(place: Path, tmp_path: Path) -> None:
    secret = tmp_path / "secret"
    secret.write_text("stays")
    (place / f".{RECORDING}.json.part").symlink_to(secret)
    assert isinstance(filed(a_folder(place), Ledger()), Delivered)
    (place / f"{RECORDING}.json").unlink()
    (place / f"{RECORDING}.json").symlink_to(secret)
    assert isinstance(filed(a_folder(place), Ledger()), TryLater)
    assert secret.read_text() == "stays"


def test_the_report_lies_beside_where_that_is_set(place: Path) -> None:
    filed(a_folder(place, report_beside=True), Ledger())
    assert (place / f"{RECORDING}.pdf").read_bytes().startswith(b"%PDF")


def test_a_folder_that_is_away_keeps_the_work_and_is_not_made(tmp_path: Path) -> None:
    away = tmp_path / "share" / "out"
    folder = a_folder(away)
    answer = filed(folder, Ledger())
    assert isinstance(answer, TryLater) and answer.unreachable
    assert not away.exists()
    assert [check.good for check in folder.check()] == [False]
    away.mkdir(parents=True)
    assert isinstance(filed(folder, Ledger()), Delivered)
    assert [check.good for check in folder.check()] == [True]


WRITER = """
    import sys
    from pathlib import Path
    from gateway.deliver import Folder
    from gateway.fhir import unpack
    from gateway.settings.handing import FolderDestination
    parcel = unpack(Path(sys.argv[1]).read_bytes())
    chosen = {"name": "region", "folder": sys.argv[2], "readings": "valid", "report_beside": True}
    folder = Folder(FolderDestination.model_validate(chosen), lambda bundle: ())
    print("ready", flush=True)
    while True:
        folder.file(parcel, None, {}, lambda way, rows: None)
        for file in Path(sys.argv[2]).glob("*.json"):
            file.unlink()
"""


def test_a_kill_at_any_moment_leaves_a_whole_file_or_none_and_the_next_attempt_files_it(
    place: Path, tmp_path: Path
) -> None:
    parcel = tmp_path / "parcel"
    parcel.write_bytes(pack(a_parcel(RECORDING, serial=SERIAL)))
    for round_ in range(12):
        command = [sys.executable, "-c", textwrap.dedent(WRITER), str(parcel), str(place)]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
            assert process.stdout is not None and process.stdout.readline() == b"ready\n"
            time.sleep(timedelta(milliseconds=7 * round_).total_seconds())
            process.send_signal(signal.SIGKILL)
        for file in place.glob("*.json"):
            assert len(json.loads(file.read_text())["entry"]) == 10, "a file that can be seen is whole"
    assert isinstance(filed(a_folder(place), Ledger(), uncertain=True), Delivered)
    assert not (place / f".{RECORDING}.json.part").exists()
    assert len(json.loads((place / f"{RECORDING}.json").read_text())["entry"]) == 10
