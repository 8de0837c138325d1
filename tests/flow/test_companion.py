"""An export and the PDF that the monitor's software made of it, from the inbox to the bundle that is handed over.

Real service, real folders and a folder as destination; the bundle in it is what a record would get.
"""

import json
from base64 import b64decode
from hashlib import sha256
from pathlib import Path

import pytest

from gateway.model import HoldReason, RecordingState
from gateway.service.loop import now
from gateway.service.storing import opened_store
from gateway.settings import load
from tests.flow.day import entries, wait_until
from tests.flow.site import Site
from tests.flow.site import a_site as site_at
from tests.unit.read.test_companion import a_pdf, encrypted

EXPORT = (Path(__file__).parents[2] / "examples" / "exports" / "plain-layout.csv").read_bytes()


def a_site(place: Path, use: str = "beside", wait: float = 1.0) -> Site:
    return site_at(place, use, wait)


def titles(site: Site) -> list[str]:
    return [each["title"] for each in site.forms()]


OURS, THEIRS = "Ambulatory blood pressure recording", "Report of the monitor's own software"


@pytest.mark.parametrize(("use", "expected"), [("beside", [OURS, THEIRS]), ("instead", [THEIRS])])
def test_a_pdf_of_the_same_stem_is_filed_as_the_site_says(tmp_path: Path, use: str, expected: list[str]) -> None:
    site = a_site(tmp_path, use)
    site.drop("reading-17.csv", EXPORT)
    site.drop("reading-17.pdf", a_pdf())
    site.once()
    assert titles(site) == expected
    theirs = site.forms()[-1]
    assert b64decode(theirs["data"]) == a_pdf(), "byte for byte"
    assert site.lying("inbox") == [] and site.lying("held") == [] and site.lying("done") == [".csv", ".pdf"]
    (story,) = site.stories()
    received, read = (event.detail for event in story.events if event.kind.value in ("received", "read"))
    digest = sha256(a_pdf()).hexdigest()
    assert received["companion_sha256"] == read["companion_sha256"] == digest
    assert read["companion"] == use


def test_by_default_a_pdf_is_a_file_that_no_map_reads(tmp_path: Path) -> None:
    site = a_site(tmp_path, "ignore")
    site.drop("reading-17.csv", EXPORT)
    site.drop("reading-17.pdf", a_pdf())
    site.once()
    assert titles(site) == [OURS]
    assert [story.hold.reason for story in site.stories() if story.hold] == [HoldReason.NO_MAP]


@pytest.mark.parametrize("first", [".csv", ".pdf"])
def test_the_two_may_come_apart(tmp_path: Path, first: str) -> None:
    site = a_site(tmp_path, wait=60)
    content = {".csv": EXPORT, ".pdf": a_pdf()}
    second = {".csv": ".pdf", ".pdf": ".csv"}[first]
    site.drop(f"reading-17{first}", content[first])
    with site.service() as process:
        wait_until(lambda: entries(site.store) >= 1, process)  # it runs, and looks at the first one
        site.drop(f"reading-17{second}", content[second])
        wait_until(lambda: bool(list((site.place / "out").glob("*.json"))), process, 50)  # sooner than the wait
        wait_until(lambda: site.lying("inbox") == [], process)
    assert titles(site) == [OURS, THEIRS]


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (encrypted("RC4-128"), "encrypted"),
        (b"not a PDF", "not-pdf"),
        (a_pdf()[:-1200], "cut-off"),
        (a_pdf()[:-7] + b" " * 700_000 + b"%%EOF\n", "too-large"),
    ],
    ids=["encrypted", "not-pdf", "cut-off", "too-large"],
)
def test_one_that_cannot_be_filed_costs_nothing_but_itself_and_is_said(
    tmp_path: Path, content: bytes, fault: str
) -> None:
    site = a_site(tmp_path, "instead")
    site.drop("reading-17.csv", EXPORT)
    site.drop("reading-17.pdf", content)
    site.once()
    assert titles(site) == [OURS]
    said = json.dumps(site.bundle())
    assert "came with the export and was not filed" in said
    assert site.lying("done") == [".csv", ".pdf"], "it is kept"
    (story,) = site.stories()
    assert [event.detail["companion"] for event in story.events if event.kind.value == "read"] == [fault]


def test_a_link_out_of_the_folder_is_never_followed(tmp_path: Path) -> None:
    site = a_site(tmp_path)
    secret = tmp_path / "elsewhere.pdf"
    secret.write_bytes(a_pdf())
    (site.place / "inbox" / "reading-17.pdf").symlink_to(secret)
    site.drop("reading-17.csv", EXPORT)
    site.once()
    assert titles(site) == [OURS]
    assert secret.read_bytes() == a_pdf() and (site.place / "inbox" / "reading-17.pdf").is_symlink()
    assert all("companion" not in json.dumps(event.detail) for story in site.stories() for event in story.events)


def test_a_late_one_is_held_and_the_record_is_not_changed(tmp_path: Path) -> None:
    site = a_site(tmp_path)
    site.drop("reading-17.csv", EXPORT)
    site.once()
    before = site.bundle()
    site.drop("reading-17.pdf", a_pdf())
    site.once()
    site.drop("reading-17.csv", EXPORT)  # and once more, both together
    site.drop("reading-17.pdf", a_pdf())
    site.once()
    assert site.bundle() == before
    states = {story.state: story for story in site.stories()}
    assert set(states) == {RecordingState.READY, RecordingState.HELD}
    hold = states[RecordingState.HELD].hold
    assert hold is not None and hold.reason is HoldReason.PDF_ALONE
    with opened_store(load(site.config, {})) as store:
        assert store.original(states[RecordingState.HELD].recording_id)[1] == a_pdf(), "kept"


def test_an_export_that_is_still_held_takes_its_pdf_when_both_come_together(tmp_path: Path) -> None:
    site = a_site(tmp_path)
    text = site.config.read_text().replace("hold_historical = false", "hold_historical = true")
    site.config.write_text(text)
    site.drop("reading-17.csv", EXPORT)
    site.once()
    (story,) = site.stories()
    assert story.state is RecordingState.HELD and story.hold is not None
    site.drop("reading-17.csv", EXPORT)
    site.drop("reading-17.pdf", a_pdf())
    site.once()
    (again,) = site.stories()
    assert again.state is RecordingState.HELD
    assert site.lying("inbox") == []
    site.config.write_text(text.replace("hold_historical = true", "hold_historical = false"))
    with opened_store(load(site.config, {})) as store:
        store.release(story.recording_id, "Dr Example", "seen", now())
    site.once()
    assert titles(site) == [OURS, THEIRS]
    assert site.lying("held") == []


def test_the_same_pair_again_is_still_a_duplicate(tmp_path: Path) -> None:
    site = a_site(tmp_path)
    for _ in range(2):
        site.drop("reading-17.csv", EXPORT)
        site.drop("reading-17.pdf", a_pdf())
        site.once()
    (story,) = site.stories()
    assert [event.kind.value for event in story.events].count("seen-again") == 1
    assert titles(site) == [OURS, THEIRS]
    assert site.lying("inbox") == [] and site.lying("done") == [".csv", ".csv", ".pdf", ".pdf"]


@pytest.mark.service
def test_kills_at_every_step_lose_nothing_and_double_nothing(tmp_path: Path) -> None:
    site = a_site(tmp_path)
    site.drop("reading-17.csv", EXPORT)
    site.drop("reading-17.pdf", a_pdf())
    for moment in range(1, 7):
        with site.service() as process:
            wait_until(lambda moment=moment: entries(site.store) >= moment, process)
            process.kill()
            process.wait()
    with site.service() as process:
        wait_until(lambda: bool(list((site.place / "out").glob("*.json"))), process)
        wait_until(lambda: site.lying("inbox") == [], process)
    (story,) = site.stories()
    assert story.state is RecordingState.READY
    assert titles(site) == [OURS, THEIRS]
    assert set(site.lying("done")) == {".csv", ".pdf"} and site.lying("held") == []


@pytest.mark.parametrize("left", [".csv", ".pdf"])
def test_a_kill_between_moving_the_two_leaves_none_behind(tmp_path: Path, left: str) -> None:
    site = a_site(tmp_path)
    content = {".csv": EXPORT, ".pdf": a_pdf()}
    for suffix, bytes_ in content.items():
        site.drop(f"reading-17{suffix}", bytes_)
    site.once()
    site.drop(f"reading-17{left}", content[left])  # as it would lie there still
    site.once()
    (story,) = site.stories()
    assert story.state is RecordingState.READY
    assert site.lying("inbox") == [] and site.lying("held") == []
    assert titles(site) == [OURS, THEIRS]


def test_what_is_taken_back_is_taken_back_with_its_pdf(tmp_path: Path) -> None:
    site = a_site(tmp_path)
    site.drop("reading-17.csv", EXPORT)
    site.drop("reading-17.pdf", a_pdf())
    site.once()
    (story,) = site.stories()
    done = site.command("retract", story.recording_id, "--by", "Dr Example", "--why", "wrong person")
    assert done.returncode in (0, 1), done.stderr
    site.once()
    found = [json.loads(path.read_text()) for path in (site.place / "out").glob("*.json")]
    reports = [
        entry["resource"]
        for bundle in found
        for entry in bundle["entry"]
        if entry["resource"].get("status") == "entered-in-error"
        and entry["resource"]["resourceType"] == "DiagnosticReport"
    ]
    assert reports and all(len(each["presentedForm"]) == 1 for each in reports)
    assert all(b64decode(each["presentedForm"][0]["data"]) != a_pdf() for each in reports)


def test_the_preview_shows_it(tmp_path: Path) -> None:
    site = a_site(tmp_path, "instead")
    export, pdf, page = site.place / "reading-17.csv", site.place / "reading-17.pdf", site.place / "page.pdf"
    export.write_bytes(EXPORT)
    pdf.write_bytes(a_pdf())
    shown = site.command("preview", str(export), "--pdf", str(page))
    assert "PDF of the monitor's own software: filed instead of our report" in shown.stdout
    assert page.read_bytes() == a_pdf()
    assert site.facts("preview", str(export))["companion"] == "instead"
    bundle = json.loads(site.command("preview", str(export), "--bundle").stdout)
    assert THEIRS in json.dumps(bundle)
    other = site.place / "other.pdf"
    other.write_bytes(b"not a PDF")
    assert site.facts("preview", str(export), "--companion", str(other))["companion"] == "not-pdf"
    assert site.command("preview", str(export), "--companion", str(site.place / "none.pdf")).returncode == 2
