"""The shape of the project: what is declared, what is pinned, how things are named."""

import ast
import re
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
PINS = ("deploy/requirements.txt", "examples/requirements.txt", "tests/requirements.txt")
EXTRAS = {"deploy": (), "examples": ("demo",), "tests": ("demo", "dev")}
MODULES = sorted((ROOT / "gateway").rglob("*.py"))
COMES_WITH = {"urllib3": "requests", "pydantic-core": "pydantic"}
"""imported for its error types; always there with the library that is declared"""


def pinned(file: str) -> dict[str, set[Version]]:
    found: dict[str, set[Version]] = {}
    for name, version in re.findall(r"^([A-Za-z0-9._-]+)==([^ ;\\]+)", (ROOT / file).read_text(), re.MULTILINE):
        found.setdefault(canonicalize_name(name), set()).add(Version(version))
    return found


def declared(*extras: str) -> list[Requirement]:
    project = PROJECT["project"]
    lines = [
        *project["dependencies"],
        *(line for extra in extras for line in project["optional-dependencies"][extra]),
    ]
    return [Requirement(line) for line in lines]


@pytest.mark.parametrize("file", PINS)
def test_everything_declared_is_pinned_in_a_version_that_fits(file: str) -> None:
    pins = pinned(file)
    for requirement in declared(*EXTRAS[file.split("/")[0]]):
        versions = pins.get(canonicalize_name(requirement.name))
        assert versions, f"{requirement.name} is not in {file}: run tests/pins"
        assert all(version in requirement.specifier for version in versions), f"{requirement}: run tests/pins"


def test_the_extra_for_parquet_is_pinned_as_it_was_tested() -> None:
    extra, tests = pinned("deploy/requirements-parquet.txt"), pinned("tests/requirements.txt")
    (needed,) = (Requirement(line) for line in PROJECT["project"]["optional-dependencies"]["parquet"])
    assert set(extra) == {needed.name} and extra.items() <= tests.items()
    text = (ROOT / "deploy/requirements-parquet.txt").read_text()
    assert "--hash=sha256:" in text and "://" not in text and "--index" not in text and "--find" not in text


def test_what_is_deployed_is_what_was_tested() -> None:
    deploy, examples, tests = (pinned(file) for file in PINS)
    assert deploy.items() <= examples.items() and examples.items() <= tests.items()


@pytest.mark.parametrize("file", PINS)
def test_pins_carry_hashes_and_name_no_host(file: str) -> None:
    text = (ROOT / file).read_text()
    assert "://" not in text and "--index" not in text and "--find" not in text
    entries = re.split(r"\n(?=\S)", text.strip())
    assert all("--hash=sha256:" in entry for entry in entries)
    assert "hatchling" in pinned(file), "the build backend is needed for --no-build-isolation"


def test_what_the_package_imports_is_declared() -> None:
    distributions = packages_distributions()
    imported: set[str] = set()
    for module in MODULES:
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                imported |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                imported.add(node.module.split(".")[0])
    used = {canonicalize_name(name) for top in imported for name in distributions.get(top, ())}
    needed = {canonicalize_name(requirement.name) for requirement in declared("parquet")}  # the one extra of it
    ours = canonicalize_name(PROJECT["project"]["name"])
    assert {name for name in used - needed - {ours} if COMES_WITH.get(name) not in needed} == set()


def test_the_wheel_carries_the_mappings() -> None:
    assert PROJECT["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"] == {"mappings": "gateway/_mappings"}
    assert not (ROOT / "gateway" / "_mappings").exists(), "a copy in the checkout would hide mappings/"


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_names_say_what_a_module_is_about(module: Path) -> None:
    vague = {
        "utils",
        "util",
        "helpers",
        "helper",
        "common",
        "manager",
        "processor",
        "handler",
        "engine",
        "data",
        "info",
    }
    parts = {*module.relative_to(ROOT / "gateway").with_suffix("").parts}
    assert not parts & (vague | {"base", "misc", "core", "lib"})


def test_every_package_says_what_it_is_for() -> None:
    for module in MODULES:
        assert ast.get_docstring(ast.parse(module.read_text(encoding="utf-8"))), module


def test_scripts_can_be_started() -> None:
    for script in ("tests/run", "tests/pins", ".ci/run"):
        assert (ROOT / script).stat().st_mode & 0o111, script
        assert (ROOT / script).read_text().startswith("#!/usr/bin/env "), script
