"""The package as it is installed: built, put into a fresh environment, and run once."""

import json
import os
import subprocess
import sys
import sysconfig
import venv
import zipfile
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
EXPORT = """\
identifier_system,https://fhir.nhs.uk/Id/nhs-number
identifier,9990000018
birth_date,1961-04-09
timezone,Europe/London
asleep_from,2026-03-03T23:00
asleep_to,2026-03-04T07:00

time,systolic,diastolic
"""


def run(command: Sequence[str | Path], folder: Path) -> subprocess.CompletedProcess[str]:
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "BP_GATEWAY"))}
    done = subprocess.run(command, cwd=folder, env=clean, capture_output=True, text=True, timeout=300)
    assert "Traceback" not in done.stderr, done.stderr
    return done


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    built = run([sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder], ROOT)
    assert built.returncode == 0, built.stderr
    (file,) = folder.glob("*.whl")
    return file


@pytest.fixture(scope="module")
def command(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """`bp-gateway` of a fresh environment. It sees the libraries of this one, but not this checkout."""
    folder = tmp_path_factory.mktemp("fresh")
    venv.create(folder, with_pip=False)
    python = folder / "bin" / "python"
    pip = sys.executable if find_spec("pip") else sys._base_executable
    installing = [pip, "-m", "pip", "--python", python, "install", "--no-deps", "--no-index", "--quiet", wheel]
    installed = run(installing, folder)
    assert installed.returncode == 0, installed.stderr
    (site,) = folder.glob("lib/python*/site-packages")
    (site / "libraries.pth").write_text(sysconfig.get_path("purelib") + "\n")
    where = run([python, "-c", "import gateway; print(gateway.__file__)"], folder).stdout.strip()
    assert Path(where).is_relative_to(folder), "the checkout must not be what is tested here"
    return folder / "bin" / "bp-gateway"


def test_every_mapping_file_and_nothing_foreign_is_in_the_wheel(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    mappings = {
        f"gateway/_mappings/{path.relative_to(ROOT / 'mappings')}"
        for path in (ROOT / "mappings").rglob("*")
        if path.is_file()
    }
    assert mappings <= names
    tops = {name.split("/")[0] for name in names}
    assert tops == {"gateway", *(top for top in tops if top.endswith(".dist-info"))}
    assert not [name for name in names if name.endswith((".pyc", ".csv"))]


def test_help_comes_quickly_and_without_the_heavy_libraries(command: Path) -> None:
    told = run([command, "--help"], command.parent)
    assert told.returncode == 0 and "Exit codes" in told.stdout
    python = command.with_name("python")
    loaded = "import sys, gateway.cli; print(sorted({'pandas', 'numpy', 'fhir', 'typst'} & set(sys.modules)))"
    assert run([python, "-c", loaded], command.parent).stdout.strip() == "[]"


def test_the_installed_mappings_are_found(command: Path) -> None:
    told = run([command, "guideline", "list", "--json"], command.parent)
    assert told.returncode == 0, told.stderr
    assert {"esc-2024", "nice-ng136"} <= {guideline["id"] for guideline in json.loads(told.stdout)}


def test_a_preview_needs_nothing_but_the_file(command: Path, tmp_path: Path) -> None:
    rows = [f"2026-03-0{3 if hour < 24 else 4}T{hour % 24:02}:{minute:02},{130 + hour % 7},{82 + minute // 10}"
            for hour in range(9, 33) for minute in (0, 30)]  # fmt: skip
    export = tmp_path / "export.csv"
    export.write_text(EXPORT + "\n".join(rows) + "\n")
    told = run([command, "preview", export, "--json"], tmp_path)
    assert told.returncode == 0, told.stdout + told.stderr
    facts = json.loads(told.stdout)
    assert facts["hold"] is None
    (awake,) = (
        statistic
        for statistic in facts["summary"]["statistics"]
        if (statistic["name"], statistic["period"]) == ("systolic-mean", "awake")
    )
    assert awake["count"] == 32 and awake["unit"] == "mm[Hg]"
    assert 130 <= awake["value"] <= 137
