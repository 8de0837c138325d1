"""Several tables in one file: where each begins and ends, and what makes a file two recordings."""

from typing import Any

import pytest

from gateway.mapping.site import SiteDefaults
from gateway.mapping.source import SourceMap
from gateway.model import Hold, HoldReason, Recording
from gateway.read import read
from tests.unit.read.books import xlsx
from tests.unit.read.layouts import SITE, a_map, reason, recorded
from tests.unit.read.test_diary import said

AT = {"how": "instant", "column": "when", "pattern": "YYYY-MM-DD hh:mm"}
KINDS = {"column": "about", "codes": {"M": "medication", "P": "posture"}, "empty": "text"}
HEAD = "number;0042\n"
READINGS = "taken;upper;lower;beats\n2026-03-03 09:00;142;88;76\n"
DIARY = "when;about;wrote\n2026-03-03 08:00;M;one tablet\n2026-03-03 12:00;;went out\n"
FOUND = [("08:00", "medication", "one tablet"), ("12:00", "text", "went out")]


def tabled(at: dict[str, Any] | None = None, form: dict[str, Any] | None = None, **changes: Any) -> SourceMap:
    table = {"header": ["when", "wrote"], "at": at or AT, "kind": KINDS, "text": {"column": "wrote"}}
    more = {"ends": ["end"], "facts_again": ["more"], **(form or {})}
    return a_map(form=more, diary={"tables": [table]}, monitor={"serial": {"fact": "box"}}, **changes)


def got(text: str, source: SourceMap | None = None) -> Recording:
    return recorded(text.encode(), source or tabled())


def why(text: str, source: SourceMap | None = None) -> HoldReason:
    return reason(text.encode(), source or tabled())


@pytest.mark.parametrize(
    "text",
    [
        HEAD + READINGS + DIARY,
        HEAD + DIARY + "\n\n" + READINGS,
        HEAD + READINGS + "end\nprinted at noon\n" + DIARY + "end\nthat is all\n",
    ],
    ids=["below", "above", "between footers"],
)
def test_the_diary_may_stand_above_or_below_the_readings(text: str) -> None:
    recording = got(text)
    assert said(recording) == FOUND
    assert len(recording.readings) == 1
    assert recording.source.remarks == ()


def test_a_file_without_the_table_has_no_entries() -> None:
    assert said(got(HEAD + READINGS)) == []


def test_facts_may_stand_once_more_below() -> None:
    recording = got(HEAD + READINGS + "more\nbox;B-7\nshoe;9\n" + DIARY)
    assert recording.monitor.serial == "B-7"
    assert said(recording) == FOUND
    assert recording.source.remarks == ("row 6 below the table: not known to the map, not used",)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (HEAD + READINGS + "more\nnumber;0043\n", HoldReason.FACTS_DISAGREE),
        (HEAD + READINGS + "number;0043\n", HoldReason.FACTS_DISAGREE),
        (HEAD + READINGS + DIARY + "number;0043\n", HoldReason.FACTS_DISAGREE),
        (HEAD + READINGS + READINGS, HoldReason.FACTS_DISAGREE),
        (HEAD + READINGS + "end\n" + READINGS, HoldReason.FACTS_DISAGREE),
        (HEAD + READINGS + DIARY + DIARY, HoldReason.FACTS_DISAGREE),
        (HEAD + READINGS + DIARY + "at noon;M;one tablet\n", HoldReason.TIME_UNREADABLE),
        (HEAD + READINGS + DIARY + ";M;one tablet\n", HoldReason.TIME_UNREADABLE),
        (HEAD + READINGS + DIARY + "2026-03-03 13:00;X;one tablet\n", HoldReason.VALUE_UNREADABLE),
        (HEAD + READINGS + DIARY + "2026-03-03 13:00;M;one tablet;more\n", HoldReason.VALUE_UNREADABLE),
        (HEAD + READINGS + DIARY + "2026-03-29 01:30;M;one tablet\n", HoldReason.TIME_DOUBTFUL),
        (HEAD + READINGS + DIARY + "2026-03-03 14", HoldReason.FILE_UNREADABLE),
        (HEAD + READINGS + DIARY + '2026-03-03 13:00;M;"one\n2026-03-03 14:00;M;two"\n', HoldReason.FILE_UNREADABLE),
        (HEAD + DIARY + "taken;upper;lower;beats\n", HoldReason.NOTHING_VALID),
    ],
)
def test_two_recordings_and_unreadable_entries_hold_the_file(text: str, expected: HoldReason) -> None:
    assert why(text) is expected


def test_a_time_that_no_clock_shows_costs_the_entry_and_is_named() -> None:
    recording = got(HEAD + READINGS + DIARY + "2026-03-03 24:20;M;one tablet\n")
    assert said(recording) == FOUND
    assert recording.source.remarks == ("row 7 of the diary: no clock shows such a time; not used",)


def test_an_unknown_column_of_the_diary_is_named() -> None:
    recording = got(HEAD + READINGS + "when;about;wrote;mood\n2026-03-03 08:00;M;one tablet;good\n")
    assert recording.source.remarks == ("column 4 of the diary table: not known to the map, not used",)


def test_clock_times_take_their_day_from_a_fact_and_pass_midnight_once() -> None:
    at = {
        "how": "time-only",
        "time": {"column": "when", "pattern": "hh:mm"},
        "starts_on": {"fact": "begun", "pattern": "YYYY-MM-DD"},
    }
    rows = "when;about;wrote\n08:00;M;one tablet\n23:00;;to bed\n00:30;P;lying\n"
    recording = got("number;0042\nbegun;2026-03-03\n" + READINGS + rows, tabled(at))
    assert [f"{note.at:%d %H:%M}" for note in recording.diary.notes] == ["03 08:00", "03 23:00", "04 00:30"]


def test_in_the_doubled_hour_the_order_decides_or_it_is_told() -> None:
    rows = "when;about;wrote\n2026-10-25 01:50;;first\n2026-10-25 01:10;;second\n"
    readings = "taken;upper;lower;beats\n2026-10-25 09:00;142;88;76\n"
    assert [f"{note.at:%H:%M%z}" for note in got(HEAD + readings + rows).diary.notes] == ["01:50+0100", "01:10+0000"]
    alone = got(HEAD + readings + "when;about;wrote\n2026-10-25 01:50;;x\n2026-10-25 01:50;;y\n")
    assert [f"{note.at:%z}" for note in alone.diary.notes] == ["+0100", "+0100"]
    assert alone.source.remarks == ("diary: rows 5, 6: in the hour that the clocks showed twice; taken as the first",)


def test_a_diary_without_any_zone_is_held() -> None:
    time = {"how": "instant", "column": "taken", "pattern": "YYYY-MM-DD hh:mm zz"}
    rows = "taken;upper;lower;beats\n2026-03-03 09:00 +01:00;142;88;76\n2026-03-03 10:00 +02:00;142;88;76\n"
    source = tabled(readings={"time": time})
    found = read((HEAD + rows + DIARY).encode(), "x.txt", [source], SiteDefaults(identifier_system="urn:example:s"))
    assert isinstance(found, Hold)
    assert found.reason is HoldReason.TIME_ZONE_UNKNOWN


def test_rows_that_hold_no_attempt_are_entries_only() -> None:
    status = {"column": "how", "measured": ["ok"], "failed": ["err"], "diary": ["key"]}
    source = a_map(readings={"status": status, "diary": [{"column": "key", "kind": "symptom"}]})
    rows = "taken;upper;lower;beats;how;key\n2026-03-03 09:00;142;88;76;ok;\n2026-03-03 09:20;;;;key;dizzy\n"
    recording = got(HEAD + rows, source)
    assert [reading.row for reading in recording.readings] == [3]
    assert said(recording) == [("09:20", "symptom", "dizzy")]
    only = "taken;upper;lower;beats;how;key\n2026-03-03 09:20;;;;key;dizzy\n"
    assert why(HEAD + only, source) is HoldReason.NOTHING_VALID


class TestSheets:
    ROWS = (["number", "0042"], ["taken", "upper", "lower"], ["2026-03-03 09:00", 142, 88])
    ENTRIES = (["anything"], ["when", "about", "wrote"], ["2026-03-03 08:00", "M", "one tablet"])

    def book(self, *entries: list[Any], title: str = "Diary") -> bytes:
        def second(book: Any) -> None:
            sheet = book.create_sheet(title)
            for row in entries:
                sheet.append(row)

        return xlsx(self.ROWS, second)

    def map(self, sheet: str | int = "diary") -> SourceMap:
        source = tabled().model_dump(exclude_none=True)
        source["format"] = {"kind": "workbook", "ends": ["end"]}
        source["diary"]["tables"][0]["sheet"] = sheet
        return SourceMap.model_validate(source)

    @pytest.mark.parametrize("sheet", ["diary", 2])
    def test_the_diary_may_stand_on_another_sheet(self, sheet: str | int) -> None:
        content = self.book(*self.ENTRIES, ["end"], ["printed at noon"])
        assert said(recorded(content, self.map(sheet))) == FOUND[:1]

    def test_a_workbook_without_that_sheet_has_no_entries(self) -> None:
        assert said(recorded(self.book(*self.ENTRIES, title="Other"), self.map())) == []

    def test_a_formula_on_the_other_sheet_is_hostile(self) -> None:
        content = self.book(*self.ENTRIES, ["2026-03-03 09:00", "M", "@SUM(1)"])
        assert reason(content, self.map()) is HoldReason.FILE_HOSTILE


@pytest.mark.parametrize(
    ("text", "claimed"), [("Day book 7", True), ("day  BOOK 12", True), ("Night book 7", False), ("", False)]
)
def test_a_cell_is_a_sign(text: str, claimed: bool) -> None:
    signs = {"columns": ["taken", "upper", "lower"], "cells": [{"row": 1, "column": 2, "text": "Day book *"}]}
    found = read(f"x;{text}\n{HEAD}{READINGS}".encode(), "x.txt", [a_map(signs=signs, ignored=["x"])], SITE)
    assert isinstance(found, Recording) is claimed
    if isinstance(found, Hold):
        assert found.reason is HoldReason.NO_MAP
