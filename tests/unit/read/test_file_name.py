"""Facts in the name of a file: one way to split it, or none."""

import time as clock

import pytest

from gateway.mapping.source_name import facts, taken, tokens
from gateway.model import Hold, HoldReason, Recording
from gateway.read import read
from tests.unit.read.layouts import SITE, a_file, a_map

ROW = "2026-03-03 09:00;142;88;76"


@pytest.mark.parametrize(
    ("pattern", "name", "expected"),
    [
        ("{Box}_{Day}.txt", "B-7_20260303.txt", {"Box": "B-7", "Day": "20260303"}),
        ("{Box}_{Day}.txt", "B-7_20260303.TXT", {"Box": "B-7", "Day": "20260303"}),
        ("{Box}_{Day}.txt", "B_7_20260303.txt", None),  # two ways to split it
        ("{Box}_{Day}.txt", "B7.txt_20260303.txt", None),
        ("{Box}_{Day}.txt", "_20260303.txt", None),
        ("{Box}_{Day}.txt", "B7_20260303.csv", None),
        ("{Box}_{Day}.txt", "B7_20260303.txt.bak", None),
        ("day {Box}_*", "Day B7_whatever_else", {"Box": "B7"}),
        ("day {Box}_*.txt", "day B7_a.txt.txt", {"Box": "B7"}),
        ("*_{Box}.txt", "anything_B7.txt", {"Box": "B7"}),
        ("*_{Box}.txt", "some_thing_B7.txt", None),
        ("{Box}", "B7", {"Box": "B7"}),
        ("{Box}.txt", "  .txt", None),
        ("{Box}.txt", "x" * 300 + ".txt", None),
    ],
)
def test_a_name_is_split_in_one_way_or_not_at_all(pattern: str, name: str, expected: dict[str, str] | None) -> None:
    assert taken(pattern, name) == expected


@pytest.mark.parametrize("pattern", ["{A}{B}", "{A}*", "**{A}", "{A}_{a}", "{A", "A}", "{}", "plain.txt", "{ }_"])
def test_a_pattern_that_could_be_read_in_two_ways_is_refused(pattern: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        tokens(pattern)


def test_no_name_is_slow() -> None:
    pattern = "_".join(f"{{f{i}}}" for i in range(60)) + "*"[:0]
    assert len(facts(pattern)) == 60
    began = clock.perf_counter()
    assert all(taken(pattern, "_" * n) is None for n in range(256))
    assert clock.perf_counter() - began < 2


def test_parts_of_the_name_are_values_like_others() -> None:
    source = a_map(
        file_name="{Who}_{Box}.txt",
        person={"identifier": {"file_name": "who"}},
        monitor={"serial": {"file_name": "Box"}},
    )
    found = read(a_file(ROW, facts="\n"), "0042_B-7.txt", [source], SITE)
    assert isinstance(found, Recording)
    assert found.person.identifier is not None
    assert (found.person.identifier.value, found.monitor.serial) == ("0042", "B-7")


def test_a_name_built_otherwise_holds_the_file() -> None:
    source = a_map(file_name="{Who}_{Box}.txt", person={"identifier": {"file_name": "Who"}})
    found = read(a_file(ROW), "0042.txt", [source], SITE)
    assert isinstance(found, Hold)
    assert found.reason is HoldReason.VALUE_UNREADABLE
    assert "0042" not in found.detail


def test_a_part_that_is_no_date_holds_the_file_without_quoting_it() -> None:
    born = {"file_name": "Born", "pattern": "YYYYMMDD"}
    source = a_map(file_name="{Born}.txt", person={"identifier": {"fact": "number"}, "birth_date": born})
    found = read(a_file(ROW), "someday.txt", [source], SITE)
    assert isinstance(found, Hold)
    assert found.detail == "person.birth_date, the file name or a constant of the map"
