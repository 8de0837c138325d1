"""A draft is no map yet: it must never claim a file in the service."""

from gateway.model import Hold, HoldReason, Recording
from gateway.read import read
from tests.unit.read.layouts import SITE
from tests.unit.read.told import SAMPLES, shipped


def test_a_draft_claims_no_file_until_the_key_is_removed() -> None:
    content = (SAMPLES / "plain-layout.csv").read_bytes()
    (source,) = shipped("plain")
    held = read(content, "x.csv", [source.model_copy(update={"draft": True})], SITE)
    assert isinstance(held, Hold)
    assert held.reason is HoldReason.NO_MAP
    assert isinstance(read(content, "x.csv", [source], SITE), Recording)


def test_a_draft_beside_the_right_map_is_no_second_claim() -> None:
    content = (SAMPLES / "plain-layout.csv").read_bytes()
    (source,) = shipped("plain")
    draft = source.model_copy(update={"draft": True, "name": "drafted"})
    assert isinstance(read(content, "x.csv", [draft, source], SITE), Recording)
