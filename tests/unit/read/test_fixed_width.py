"""Text in columns of fixed width: cells by position, and never half of a value."""

from typing import Any

import pytest

from gateway.mapping.source import SourceMap
from gateway.model import HoldReason
from tests.unit.read.layouts import a_map, lines, reason, recorded

HEAD = "number: 0042\n\n"
TABLE = "taken             upper lower beats\n"
ROW = "2026-03-03 09:00  142    88    76\n"
READ = ["2026-03-03T09:00:00+00:00 measured 142.0/88.0 mean - pulse 76.0 scheduled"]


def fixed(**changes: Any) -> SourceMap:
    source = a_map().model_dump(exclude_none=True)
    form = {"kind": "fixed-width", "decimal": ".", "cuts": [1, 19, 25, 31], "fact_separator": ":"}
    return SourceMap.model_validate({**source, "format": {**form, **changes}})


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_cells_are_cut_by_position(end: str) -> None:
    content = (HEAD + TABLE + ROW).replace("\n", end).encode()
    assert lines(content, fixed()) == READ
    assert recorded(content, fixed()).readings[0].row == 4


def test_facts_without_a_separator_are_cut_too() -> None:
    assert lines(("number            0042\n" + TABLE + ROW).encode(), fixed(fact_separator=None)) == READ


def test_cells_that_touch_must_be_declared() -> None:
    head = "number: 0042\ntaken           upper lower beats\n"
    row = "2026-03-03 09:00142   88    76\n"
    cuts = [1, 17, 23, 29]
    assert lines((head + row).encode(), fixed(cuts=cuts, dense=True)) == READ
    assert reason((head + row).encode(), fixed(cuts=cuts)) is HoldReason.VALUE_UNREADABLE


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ("2026-03-03 09:00 1142    88    76\n", HoldReason.VALUE_UNREADABLE),
        ("2026-03-03 09:00      142 88    76\n", HoldReason.VALUE_UNREADABLE),
        ("2026-03-03 09:00\t142    88    76\n", HoldReason.FILE_UNREADABLE),
        ("2026-03-03 09:00  142", HoldReason.FILE_UNREADABLE),
        ("2026-03-03 09:00  =1+1   88    76\n", HoldReason.FILE_HOSTILE),
        ("number: 0043\n", HoldReason.TIME_UNREADABLE),
    ],
)
def test_half_a_value_is_never_read(row: str, expected: HoldReason) -> None:
    assert reason((HEAD + TABLE + ROW + row).encode(), fixed()) is expected


def test_a_row_that_ends_early_has_blank_cells() -> None:
    assert lines((HEAD + TABLE + "2026-03-03 09:00  142\n").encode(), fixed()) == [
        "2026-03-03T09:00:00+00:00 measured 142.0/- mean - pulse - scheduled"
    ]


def test_letters_need_their_code_page() -> None:
    content = (HEAD + TABLE + ROW).encode() + b"\xeb\n"
    assert reason(content, fixed()) is HoldReason.FILE_ENCODING
