"""The bytes that a standard export becomes, one resource a line, by the real chain from file to FHIR.

A change here changes what records hold. Write them anew, after reading the difference:
`python -m tests.flow.test_golden_bundle`
"""

from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from gateway.analyse import summarise
from gateway.fhir import Parcel, Resource, check, compose, pack, parsed, unpack, written
from gateway.mapping.rules import Rules
from gateway.mapping.site import SiteDefaults
from gateway.model import HeartRateChoice, ReadingsChoice, Recording, ReportChoice
from gateway.read import read
from gateway.settings import default_person_rules
from gateway.settings.maps import Mappings, load
from gateway.validate import examine
from tests.unit.fhir.building import PAGE, SOFTWARE, a_filing, identity_of

HERE = Path(__file__).parent / "golden"
CASES: dict[str, dict[str, Any]] = {
    "valid": {},
    "all": {
        "readings": ReadingsChoice.ALL,
        "heart_rate": HeartRateChoice.SEPARATE,
        "report": ReportChoice.DOCUMENT_REFERENCE,
        "snomed": True,
        "report_status": "final",
    },
}
NHS = "https://fhir.nhs.uk/Id/nhs-number"
NOW = datetime(2026, 3, 6, 9, 0, tzinfo=UTC)


@cache
def mappings() -> Mappings:
    return load(None)


@cache
def resources(name: str) -> tuple[Recording, tuple[Resource, ...]]:
    content = (HERE / "standard.csv").read_bytes()
    maps = mappings()
    defaults = SiteDefaults(zone="Europe/London", identifier_system=NHS)
    recording = read(content, "standard.csv", tuple(maps.sources.values()), defaults)
    assert isinstance(recording, Recording)
    rules = Rules(guideline=maps.guidelines["esc-2024"], limits=maps.limits["widest"], person=default_person_rules())
    examined = examine(recording, rules, NOW)
    assert examined.hold is None
    summary = summarise(recording, examined, rules)
    profile = maps.profiles["international"]
    filing, identity = a_filing(**CASES[name]), identity_of(recording)
    made = compose(recording, summary, filing, identity, maps.codes, profile, NOW, PAGE, SOFTWARE)
    return recording, made


def lines(name: str) -> bytes:
    return b"".join(written(item.body) + b"\n" for item in resources(name)[1])


@pytest.mark.parametrize("name", CASES)
def test_the_bytes_are_the_golden_bytes(name):
    assert lines(name) == (HERE / f"{name}.ndjson").read_bytes()


@pytest.mark.parametrize("name", CASES)
def test_the_golden_bytes_are_stable_when_read_and_written_again(name):
    for line in (HERE / f"{name}.ndjson").read_bytes().splitlines():
        assert written(parsed(line)) == line


@pytest.mark.parametrize("name", CASES)
def test_the_golden_recording_passes_and_comes_back_from_the_store_the_same(name):
    recording, made = resources(name)
    assert check(made, mappings().codes) == ()
    parcel = Parcel(person=recording.person, ended=recording.ended, resources=made)
    assert pack(unpack(pack(parcel))) == pack(parcel)
    assert check(unpack(pack(parcel)).resources, mappings().codes) == ()


if __name__ == "__main__":
    for case in CASES:
        (HERE / f"{case}.ndjson").write_bytes(lines(case))
