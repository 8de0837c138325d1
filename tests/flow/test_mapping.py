"""From an unknown export to a map of one's own, as IT does it: real processes and the site's own folder."""

import os
import subprocess
import sys
from pathlib import Path

SAMPLE = Path(__file__).parents[2] / "examples" / "exports" / "plain-layout.csv"
OWN = SAMPLE.read_bytes().replace(b"time,systolic,diastolic,mean,heart_rate", b"Zeit,Systole,Diastole,MAP,Puls")
SETTINGS = """\
[site]
name = "Larkmoor Surgery"
organization = "Larkmoor Surgery"
timezone = "Europe/London"
guideline = "esc-2024"
[bounds]
hold_historical = false
[mappings]
folder = "{folder}"
"""


def gateway(*words: object) -> subprocess.CompletedProcess[str]:
    environ = {name: value for name, value in os.environ.items() if not name.startswith("BP_GATEWAY")}
    command = [sys.executable, "-m", "gateway", *map(str, words)]
    return subprocess.run(command, env=environ, capture_output=True, text=True, timeout=60, check=False)


def test_a_draft_reads_nothing_until_a_person_has_confirmed_it(tmp_path: Path) -> None:
    export, sources = tmp_path / "export.csv", tmp_path / "site" / "sources"
    export.write_bytes(OWN)
    sources.mkdir(parents=True)
    settings = tmp_path / "gateway.toml"
    settings.write_text(SETTINGS.format(folder=tmp_path / "site"), encoding="utf-8")
    draft = sources / "ours.toml"

    done = gateway("mapping", "draft", export, "--to", draft)
    assert done.returncode == 0, done.stderr
    tried = gateway("mapping", "try", export, "--map", draft, "--config", settings)
    assert tried.returncode == 0, tried.stdout + tried.stderr

    refused = gateway("preview", export, "--config", settings)
    assert refused.returncode == 1
    assert "No source map describes a file like this one." in refused.stdout

    text = draft.read_text(encoding="utf-8")
    draft.write_text(text.replace("draft = true\n", "").replace('"drafted"', '"ours"'), encoding="utf-8")
    taken = gateway("preview", export, "--config", settings)
    assert taken.returncode == 0, taken.stdout + taken.stderr
    assert "Read by map 'ours'" in taken.stdout
    assert gateway("mapping", "try", export, "--map", "ours", "--config", settings).returncode == 0


def test_a_fault_in_a_map_is_told_with_the_nearest_right_word(tmp_path: Path) -> None:
    faulty = tmp_path / "ours.toml"
    plain = Path(__file__).parents[2] / "mappings" / "sources" / "plain.toml"
    faulty.write_text(plain.read_text(encoding="utf-8").replace("systolic = {", "sistolic = {"), encoding="utf-8")
    done = gateway("mapping", "try", SAMPLE, "--map", faulty)
    assert done.returncode == 2
    assert "did you mean 'systolic'?" in done.stderr
    assert "Traceback" not in done.stderr


def test_help_loads_nothing_heavy() -> None:
    heavy = "{'pandas', 'numpy', 'pydantic', 'gateway.drafting', 'gateway.read', 'gateway.mapping.source'}"
    code = f"import sys, gateway.cli; found = {heavy} & set(sys.modules); sys.exit(', '.join(found) or 0)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
