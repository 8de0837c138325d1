"""The shipped FHIR files are what the code makes today. Write them anew, after reading the difference:
`python -m tests.spec.test_fhir_shipped`
"""

from functools import cache
from pathlib import Path

import pytest

from gateway.fhir import Rank, Resource, bundle, check, parsed, written
from gateway.fhir.terminology import terminology
from gateway.model import ReportChoice
from gateway.settings.maps import load
from tests.conformance.fhir.agreement import open_faults, table
from tests.conformance.fhir.samples import scenario_parcels
from tests.unit.fhir.building import MAPPINGS, all_codes
from tests.unit.fhir.test_check import BROKEN, BUNDLES, MODELS, pick

SHIPPED = MAPPINGS.parent / "examples" / "fhir"
SAMPLE = SHIPPED / "sample-bundle.json"


@cache
def shipped() -> dict[str, bytes]:
    """Name -> content: our CodeSystem and ValueSet, and the bundle of the scenario's first export, page left out."""
    system, values = terminology(load(None).codes)
    first = next(scenario_parcels(ReportChoice.NONE))
    assert check(first.resources, all_codes()) == ()
    named = {
        "codesystem.json": system,
        "valueset.json": values,
        "sample-bundle.json": bundle(first.resources),
    }
    return {name: written(body, indent=True) + b"\n" for name, body in named.items()}


@pytest.mark.parametrize("name", ["codesystem.json", "valueset.json", "sample-bundle.json"])
def test_a_shipped_file_is_what_the_code_makes(name):
    assert (SHIPPED / name).read_bytes() == shipped()[name]


def walked_through():
    """Rows of the table in README.md: path, value."""
    for line in (MAPPINGS.parent / "README.md").read_text().splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 3 and cells[0].startswith("`") and cells[1].startswith("`"):
            yield cells[0].strip("`"), cells[1].strip("`")


@pytest.mark.parametrize(("path", "value"), list(walked_through()))
def test_the_readme_walks_through_the_bundle_as_it_is(path, value):
    kind, *steps = path.split(".")
    made = [Resource(Rank.DEVICE, entry["resource"]) for entry in parsed(SAMPLE.read_bytes())["entry"]]
    found = pick(made, kind)
    for step in steps:
        found = found[int(step) if step.isdigit() else step]
    assert str(found) == value


def test_the_readme_walks_through_every_kind_of_resource():
    kinds = {path.split(".")[0] for path, _ in walked_through()}
    assert kinds == {"reading", "awake", "day", "whole", "report", "monitor", "provenance"}


def test_the_code_system_holds_every_code_of_ours_once():
    system, values = terminology(all_codes())
    codes = [item["code"] for item in system["concept"]]
    assert codes == [code.code for code in all_codes().systems["own"].codes]
    assert system["count"] == len(set(codes))
    included = {(part["system"], item["code"]) for part in values["compose"]["include"] for item in part["concept"]}
    assert included == set(all_codes().approved())


def test_the_table_of_open_faults_stands_in_the_developers_guide():
    assert table() in (MAPPINGS.parent / "DEVELOPERS.md").read_text()


def test_every_open_fault_is_one_of_the_corpus():
    names = {case[0] for case in (*BROKEN, *MODELS)} | {f"bundle: {case[0]}" for case in BUNDLES}
    assert set(open_faults()) <= names
    assert len(names) == len(BROKEN) + len(MODELS) + len(BUNDLES)


if __name__ == "__main__":
    for name, content in shipped().items():
        Path(SHIPPED, name).write_bytes(content)
