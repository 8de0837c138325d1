"""`mapping try`, `draft` and `schema`: what they print, and what a script can rely on."""

import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from typer.testing import CliRunner

from gateway.cli import app
from gateway.mapping.source import SourceMap
from gateway.settings.maps import shipped_folder
from tests.unit.read import books

SAMPLES = Path(__file__).parents[3] / "examples" / "exports"
PLAIN = SAMPLES / "plain-layout.csv"
FENMARCH = SAMPLES / "fenmarch-layout.txt"


def run(*words: object) -> Result:
    return CliRunner().invoke(app, ["mapping", *map(str, words)])


def drafted(tmp_path: Path, file: Path = PLAIN) -> Path:
    to = tmp_path / "drafted.toml"
    assert run("draft", file, "--to", to).exit_code == 0
    return to


class TestTry:
    def test_every_row_is_shown_with_its_use_and_why(self) -> None:
        done = run("try", PLAIN, "--map", "plain")
        assert done.exit_code == 0, done.output
        for row in range(36, 45):
            assert f"│  {row} │" in done.output
        assert "2026-03-28T21:30:00+00:00 │    141.5 │" in done.output
        assert "cuff-error" in done.output
        assert "it would go on" in done.output

    @pytest.mark.parametrize(
        ("environ", "coloured"),
        [({}, False), ({"FORCE_COLOR": "1"}, True), ({"FORCE_COLOR": "1", "NO_COLOR": "1"}, False)],
    )
    def test_colour_is_for_terminals_that_want_it(self, environ: dict[str, str], coloured: bool) -> None:
        clean = {"FORCE_COLOR": None, "NO_COLOR": None, "TTY_COMPATIBLE": None, **environ}
        words = ["mapping", "try", str(PLAIN), "--map", "plain"]
        assert ("\x1b[" in CliRunner().invoke(app, words, env=clean, color=True).output) is coloured

    def test_a_path_serves_as_well_as_an_id(self) -> None:
        path = shipped_folder() / "sources" / "plain.toml"
        assert run("try", PLAIN, "--map", path).output == run("try", PLAIN, "--map", "plain").output

    @pytest.mark.parametrize(
        "words", [("mapping", "try", "--map", "tarnholt"), ("mapping", "draft"), ("preview",)], ids=" ".join
    )
    def test_what_a_library_prints_about_a_damaged_workbook_is_no_output(
        self, tmp_path: Path, words: tuple[str, ...]
    ) -> None:
        def unstyled(part: bytes) -> bytes:
            return re.sub(
                rb"<cellStyleXfs.*?</cellStyleXfs>", b"<cellStyleXfs></cellStyleXfs>", part, flags=re.DOTALL
            )

        file = tmp_path / "tarnholt-layout.xlsx"
        file.write_bytes(books.with_part((SAMPLES / file.name).read_bytes(), "xl/styles.xml", unstyled))
        done = subprocess.run([sys.executable, "-m", "gateway", *words, str(file), "--json"], capture_output=True)
        assert b"out of range" in done.stderr, "the library still prints it"
        json.loads(done.stdout)

    def test_another_map_is_told_that_it_does_not_fit(self) -> None:
        done = run("try", PLAIN, "--map", "fenmarch")
        assert done.exit_code == 1
        assert "WOULD BE HELD: No source map describes a file like this one." in done.output

    def test_the_zone_of_a_silent_file_comes_from_the_option(self) -> None:
        done = run("try", FENMARCH, "--map", "fenmarch", "--timezone", "Europe/Berlin", "--json")
        facts = json.loads(done.output)
        assert facts["recording"]["zone"] == "Europe/Berlin"
        assert facts["recording"]["began"] == "2026-03-03T09:12:00+01:00"

    def test_json_holds_rows_remarks_findings_and_hold(self, tmp_path: Path) -> None:
        odd = tmp_path / "odd.csv"
        odd.write_bytes(PLAIN.read_bytes().replace(b"timezone,", b"shoe size,7\ntimezone,"))
        facts = json.loads(run("try", odd, "--map", "plain", "--json").output)
        assert set(facts) == {"map", "draft", "recording", "remarks", "findings", "hold", "rows", "doubts"}
        assert (facts["rows"], facts["doubts"]) == ([], [])
        assert len(facts["recording"]["readings"]) == 9
        assert any("row 33" in each for each in (*facts["remarks"], *(f["sentence"] for f in facts["findings"])))

    def test_a_file_held_while_it_is_read_shows_every_row_and_every_doubt(self, tmp_path: Path) -> None:
        odd = tmp_path / "odd.csv"
        text = PLAIN.read_text(encoding="utf-8")
        for old in ("2026-03-28T21:30:00", "2026-03-28T21:30"):
            text = text.replace(old, "28/03/2026 21:30")
        odd.write_text(re.sub("(?m)^identifier,[^,\n]*", "identifier,1.2E9", text), encoding="utf-8")
        done = run("try", odd, "--map", "plain")
        assert done.exit_code == 1
        for row in range(36, 45):
            assert f"│ {row}  │ " in done.output
        assert "28/03/2026 21:30" in done.output
        assert done.output.count("- doubt in row ") == 1
        assert done.output.count("- doubt: ") >= 1
        assert "WOULD BE HELD" in done.output
        facts = json.loads(run("try", odd, "--map", "plain", "--json").output)
        assert facts["recording"] is None
        assert [each["row"] for each in facts["rows"]] == list(range(36, 45))
        assert sum(bool(each["doubts"]) for each in facts["rows"]) == 1

    def test_unknown_maps_and_missing_files_are_wrong_use(self, tmp_path: Path) -> None:
        unknown = run("try", PLAIN, "--map", "plan")
        assert (unknown.exit_code, "did you mean 'plain'?" in unknown.output) == (2, True)
        assert run("try", tmp_path / "none.csv", "--map", "plain").exit_code == 2
        assert run("try", PLAIN, "--map", tmp_path / "none.toml").exit_code == 2

    def test_signs_that_steer_a_terminal_are_not_printed(self, tmp_path: Path) -> None:
        odd = tmp_path / "odd.csv"
        odd.write_bytes(PLAIN.read_bytes().replace(b"cuff-error", "cuff\x9b31m\u202eerror".encode()))
        assert not {"\x9b", "\u202e"} & set(run("try", odd, "--map", "plain").output)


class TestDraft:
    def test_a_draft_is_written_tried_and_said_to_be_one(self, tmp_path: Path) -> None:
        to = drafted(tmp_path)
        assert tomllib.loads(to.read_text(encoding="utf-8"))["draft"] is True
        done = run("try", PLAIN, "--map", to)
        assert done.exit_code == 0, done.output
        assert "This map is a draft" in done.output
        by_map = json.loads(run("try", PLAIN, "--map", "plain", "--json").output)["recording"]["readings"]
        by_draft = json.loads(run("try", PLAIN, "--map", to, "--json").output)["recording"]["readings"]
        assert by_draft == by_map

    def test_an_existing_file_is_kept(self, tmp_path: Path) -> None:
        to = drafted(tmp_path)
        before = to.read_bytes()
        assert run("draft", PLAIN, "--to", to).exit_code == 2
        assert to.read_bytes() == before

    def test_without_a_place_the_draft_is_printed_alone(self) -> None:
        done = run("draft", PLAIN)
        assert done.exit_code == 0
        assert tomllib.loads(done.stdout)["readings"]["systolic"] == {"column": "systolic"}
        assert "open questions:" in done.stderr

    def test_json_gives_every_guess_with_its_evidence(self) -> None:
        facts = json.loads(run("draft", PLAIN, "--json").stdout)
        unit = next(each for each in facts["guesses"] if each["key"] == "readings.unit")
        assert (unit["value"], unit["proven"]) == ("mmHg", True)

    @pytest.mark.parametrize("content", [b"", b"hello\n", b"%PDF-1.7\n"])
    def test_what_is_no_export_is_said_and_exits_with_1(self, tmp_path: Path, content: bytes) -> None:
        odd = tmp_path / "odd"
        odd.write_bytes(content)
        done = run("draft", odd)
        assert (done.exit_code, done.stdout) == (1, "")
        assert done.stderr.strip().endswith(".")


class TestSchema:
    def test_it_accepts_what_is_shipped_and_knows_every_key(self) -> None:
        schema = json.loads(run("schema").output)
        assert set(schema["properties"]) == set(SourceMap.model_fields)
        assert schema["additionalProperties"] is False

    def test_every_part_is_described(self) -> None:
        schema: dict[str, Any] = json.loads(run("schema").output)
        assert [name for name, part in schema["$defs"].items() if not part.get("description")] == []
        assert schema["description"].startswith("One kind of export.")


@pytest.mark.parametrize("command", ["try", "draft", "schema"])
def test_help_ends_with_an_example(command: str) -> None:
    done = run(command, "--help")
    assert done.exit_code == 0
    assert f"Example: bp-gateway mapping {command}" in done.output
