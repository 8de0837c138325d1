"""Outer form: which map, damaged and hostile files, two recordings in one file, cut-off files."""

from time import perf_counter

import pytest

from gateway.mapping.site import SiteDefaults
from gateway.model import Hold, HoldReason
from gateway.read import read
from tests.unit.read.layouts import SITE, a_file, a_map, held, reason, recorded
from tests.unit.read.told import SAMPLES, shipped

ROW = "2026-03-01 09:20;131;82;71"
LATER = "2026-03-01 09:50;130;81;70"


class TestWhichMap:
    def test_shipped_maps_claim_only_their_own_samples(self) -> None:
        for sample in (file for file in SAMPLES.iterdir() if file.suffix != ".json"):
            claims = [
                each.name
                for each in shipped()
                if not isinstance(read(sample.read_bytes(), sample.name, [each], SITE), Hold)
            ]
            assert claims == [sample.stem.partition("-layout")[0]]

    @pytest.mark.parametrize(
        "content", [b"hello\n", b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", b"PK\x03\x04\0\0", b"a;b\n1;2\n"]
    )
    def test_a_file_that_no_map_describes_is_held(self, content: bytes) -> None:
        assert reason(content) is HoldReason.NO_MAP

    def test_without_maps_nothing_is_claimed(self) -> None:
        found = read(a_file(ROW), "x", [], SITE)
        assert isinstance(found, Hold)
        assert found.reason is HoldReason.NO_MAP

    def test_two_claims_hold_the_file_and_are_named(self) -> None:
        found = read(a_file(ROW), "x", [a_map(), a_map(name="other")], SITE)
        assert isinstance(found, Hold)
        assert found.reason is HoldReason.SEVERAL_MAPS
        assert "other, small" in found.sentence

    def test_facts_and_file_name_are_signs_too(self) -> None:
        by_fact = a_map(signs={"columns": ["taken"], "facts": ["sheet"]})
        assert reason(a_file(ROW), by_fact) is HoldReason.NO_MAP
        assert recorded(a_file(ROW, facts="number;42\nSheet;1\n"), by_fact)
        assert reason(a_file(ROW), a_map(signs={"columns": ["taken"], "name": "*.csv"})) is HoldReason.NO_MAP
        assert recorded(a_file(ROW), a_map(signs={"columns": ["taken"], "name": "EXP*.TXT"}))

    def test_names_are_compared_without_case_blanks_and_invisible_marks(self) -> None:
        assert recorded(a_file(ROW, header=" Taken;UPPER;\u200blower ;Beats")).readings[0].systolic == 1310


class TestDamage:
    @pytest.mark.parametrize("content", [b"", b" \r\n\t\n", b"\xef\xbb\xbf", b"\xff\xfe", b"\0\0\0"])
    def test_an_empty_file(self, content: bytes) -> None:
        assert reason(content) is HoldReason.FILE_EMPTY

    def test_a_table_without_rows(self) -> None:
        assert reason(a_file()) is HoldReason.NOTHING_VALID

    def test_too_many_bytes_and_too_many_rows(self) -> None:
        assert reason(a_file(ROW), site=SiteDefaults(zone="UTC", most_bytes=20)) is HoldReason.FILE_TOO_LARGE
        assert reason(a_file(*[ROW] * 5_001)) is HoldReason.FILE_TOO_LARGE

    @pytest.mark.parametrize("row", [f'2026-03-01 09:20;131;82;"71\n{LATER}', '2026-03-01 09:20;"131"1;82;71'])
    def test_quotes_that_do_not_match(self, row: str) -> None:
        assert reason(a_file(row)) is HoldReason.FILE_UNREADABLE

    def test_a_quoted_cell_that_swallows_rows_is_held(self) -> None:
        assert reason(a_file(f'2026-03-01 09:20;131;82;"71\n{LATER}\n"')) is HoldReason.FILE_UNREADABLE

    def test_a_cell_without_end_is_held(self) -> None:
        assert reason(a_file(f"2026-03-01 09:20;131;82;{'7' * 200_000}")) is HoldReason.FILE_UNREADABLE

    def test_a_row_without_end_is_held(self) -> None:
        assert reason(a_file(ROW + ";" * 300)) is HoldReason.FILE_UNREADABLE

    def test_a_last_row_that_was_cut_off_is_held(self) -> None:
        whole = a_file(ROW, LATER)
        assert reason(whole[: whole.rindex(b";")]) is HoldReason.FILE_UNREADABLE
        assert len(recorded(whole.rstrip(b"\n")).readings) == 2

    def test_more_cells_than_columns_are_held_but_empty_ones_are_not(self) -> None:
        assert recorded(a_file(ROW + ";;"))
        assert reason(a_file(ROW + ";72")) is HoldReason.VALUE_UNREADABLE

    def test_blank_rows_are_no_attempts(self) -> None:
        assert len(recorded(a_file("", ROW, ";;;", '"";"";"";""', "  ; ;;", LATER, "")).readings) == 2

    def test_rows_keep_their_line_numbers_after_a_cell_with_line_breaks(self) -> None:
        source = a_map({"note": {"column": "note"}})
        content = a_file(ROW + ';"one\ntwo"', LATER + ";", header="taken;upper;lower;beats;note")
        found = recorded(content, source).readings
        assert [(each.row, each.note) for each in found] == [(4, "one\ntwo"), (6, None)]

    def test_the_same_column_twice_is_held(self) -> None:
        assert reason(a_file(ROW, header="taken;upper;lower;lower")) is HoldReason.FACTS_DISAGREE

    def test_a_column_that_is_not_known_is_reported_by_its_position(self) -> None:
        recorded_ = recorded(a_file("2026-03-01 09:20;131;82;x", header="taken;upper;lower;mystery"))
        assert recorded_.source.remarks == ("column 4 of the table: not known to the map, not used",)


class TestTwoRecordingsInOneFile:
    @pytest.mark.parametrize("second", [("number;0043",), ("taken;upper;lower;beats",), ("Number;",)])
    def test_a_second_block_is_held(self, second: tuple[str, ...]) -> None:
        hold = held(a_file(ROW, "", *second, LATER))
        assert hold.reason is HoldReason.FACTS_DISAGREE
        assert "row 6" in hold.sentence

    def test_after_the_declared_end_nothing_is_read(self) -> None:
        source = a_map(form={"ends": ["Total"]})
        assert len(recorded(a_file(ROW, "total;2;;", "number;0043", LATER), source).readings) == 1

    def test_a_footer_that_is_not_declared_is_held(self) -> None:
        assert reason(a_file(ROW, "Total;2;;")) is HoldReason.TIME_UNREADABLE


class TestHostile:
    @pytest.mark.parametrize(
        "cell", ["=1+1", "=cmd|' /C calc'!A0", "+SUM(A1)", "@SUM(A1)", "-HYPERLINK(1)", "@x|y!z", " =A1"]
    )
    def test_a_formula_is_refused_wherever_it_stands(self, cell: str) -> None:
        assert reason(a_file(ROW, facts=f'number;42\nname;"{cell}"\n')) is HoldReason.FILE_HOSTILE
        assert reason(a_file(f'2026-03-01 09:20;131;82;"{cell}"')) is HoldReason.FILE_HOSTILE

    def test_a_hold_never_repeats_what_stands_in_the_file(self) -> None:
        for content in (
            a_file("SECRET;131;82;71"),
            a_file(ROW, facts="number;SECRET\nnumber;SECRET2\n"),
            a_file(ROW, facts="number;42\nzone;SECRET\n"),
            a_file(ROW + ";SECRET"),
        ):
            assert "SECRET" not in repr(held(content))

    @pytest.mark.parametrize("cell", ["-" + "|" * 100_000, " " * 100_000 + "x", "9" * 100_000, "+" + "a" * 100_000])
    def test_a_cell_made_to_be_slow_is_not(self, cell: str) -> None:
        began = perf_counter()
        read(a_file(ROW, f"2026-03-01 10:20;{cell};82;71"), "x", [a_map()], SITE)
        read(a_file(f"{cell};131;82;71"), "x", [a_map()], SITE)
        assert perf_counter() - began < 2

    def test_a_fact_of_absurd_length_is_held(self) -> None:
        assert reason(a_file(ROW, facts=f"number;{'9' * 3000}\n")) is HoldReason.VALUE_UNREADABLE
