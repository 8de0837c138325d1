"""Each sample export is read exactly as the twin file beside it says, by hand."""

import json

import pytest

from gateway.mapping.site import SiteDefaults
from gateway.model import Recording
from gateway.read import read
from tests.unit.read.told import SAMPLES, shipped, told

TWINS = sorted(SAMPLES.glob("*.json"))
SITE = SiteDefaults(zone="Europe/Berlin", identifier_system="https://example.org/site-number")


def test_every_sample_has_a_twin_and_every_twin_a_sample() -> None:
    stems = {file.stem for file in SAMPLES.iterdir() if file.suffix != ".json"}
    assert stems == {file.stem for file in TWINS} != set()


@pytest.mark.parametrize("twin", TWINS, ids=lambda twin: twin.stem)
def test_a_sample_is_read_as_its_twin_says(twin) -> None:
    (sample,) = (file for file in SAMPLES.glob(f"{twin.stem}.*") if file.suffix != ".json")
    recording = read(sample.read_bytes(), sample.name, shipped(), SITE)
    assert isinstance(recording, Recording), recording
    assert told(recording) == json.loads(twin.read_text("utf-8"))
