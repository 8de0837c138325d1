"""Faults of exported text seen in the field, and their neighbours: encodings, marks for "no value", units, numbers.

The kinds are publicly reported faults of other programs that read tables; each test names a report. Conversions are
checked against NIST SP 811 appendix B.8 (1 mmHg = 133.3224 Pa, that is 1 kPa = 7.50062 mmHg).
"""

import codecs

import pytest

from gateway.mapping.site import SiteDefaults
from gateway.model import HoldReason, Outcome
from tests.unit.read.layouts import a_file, a_map, held, lines, readings, reason, recorded

DECIMAL_COMMA = {"decimal": ","}
IN_KPA = {"unit": "kPa"}
UNIT_IN_FILE = {"unit": {"fact": "unit", "codes": {"kPa": "kPa", "mmHg": "mmHg"}}}
GOOD = a_file("2026-03-01 09:20;131;82;71")


class TestEncoding:
    """pandas-dev/pandas#13497, csv2db/csv2db#50."""

    @pytest.mark.parametrize(
        ("mark", "encoding"),
        [
            (codecs.BOM_UTF8, "utf-8"),
            (codecs.BOM_UTF16_LE, "utf-16-le"),
            (codecs.BOM_UTF16_BE, "utf-16-be"),
            (codecs.BOM_UTF32_LE, "utf-32-le"),
            (codecs.BOM_UTF32_BE, "utf-32-be"),
        ],
    )
    @pytest.mark.parametrize("facts", ["number;0042\n\n", ""])
    def test_a_byte_order_mark_decides_and_disappears(self, mark: bytes, encoding: str, facts: str) -> None:
        text = a_file("2026-03-01 09:20;131;82;71", facts=facts).decode()
        recording = recorded(mark + text.encode(encoding))
        assert recording.source.encoding == encoding
        assert [(each.systolic, each.diastolic) for each in recording.readings] == [(1310, 820)]

    @pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be", "utf-32-le"])
    def test_wide_text_without_a_mark_is_named_as_the_encoding_problem_it_is(self, encoding: str) -> None:
        hold = held(GOOD.decode().encode(encoding))
        assert hold.reason is HoldReason.FILE_ENCODING
        assert "UTF-16" in hold.sentence

    def test_text_that_is_not_utf8_is_held_unless_the_map_names_its_code_page(self) -> None:
        content = a_file("2026-03-01 09:20;131;82;71", facts="number;0042\nname;Noël\n").decode().encode("cp1252")
        assert reason(content) is HoldReason.FILE_ENCODING
        named = {"person": {"identifier": {"fact": "number"}, "family_name": {"fact": "name"}}}
        recording = recorded(content, a_map(form={"code_page": "windows-1252"}, **named))
        assert recording.person.family_name == "Noël"
        assert recording.source.encoding == "windows-1252"

    def test_a_byte_that_the_code_page_does_not_know_is_not_dropped_but_held(self) -> None:
        content = GOOD.replace(b"0042", b"00\x8142")
        assert reason(content, a_map(form={"code_page": "windows-1252"})) is HoldReason.FILE_ENCODING

    def test_utf8_is_read_as_utf8_even_when_the_map_has_a_code_page(self) -> None:
        content = a_file("2026-03-01 09:20;131;82;71", facts="number;0042é\n")
        recording = recorded(content, a_map(form={"code_page": "windows-1252"}))
        assert recording.person.identifier is not None
        assert recording.person.identifier.value == "0042é"

    @pytest.mark.parametrize("control", ["\0", "\x07", "\x1a", "\x7f"])
    def test_control_characters_are_held(self, control: str) -> None:
        assert reason(GOOD.replace(b"131", f"13{control}1".encode())) is HoldReason.FILE_ENCODING


class TestNumbers:
    """dannymcc/may#244, langwatch/langwatch#1558."""

    def test_decimal_commas_beside_semicolons(self) -> None:
        content = a_file("2026-03-01 09:20;131,0;82,0;")
        assert lines(content, a_map(form=DECIMAL_COMMA)) == [
            "2026-03-01T09:20:00+00:00 measured 131.0/82.0 mean - pulse - scheduled"
        ]

    def test_decimal_commas_between_commas_when_they_are_quoted(self) -> None:
        content = a_file('2026-03-01 09:20,"131,5","82,0",', header="taken,upper,lower,beats", facts="number,42\n")
        source = a_map(form={"decimal": ",", "delimiter": ","})
        assert readings(content, source)[0].systolic == 1315

    def test_decimal_commas_between_commas_without_quotes_do_not_add_up_and_are_held(self) -> None:
        content = a_file("2026-03-01 09:20,131,5,82,0,71", header="taken,upper,lower,beats", facts="number,42\n")
        hold = held(content, a_map(form={"decimal": ",", "delimiter": ","}))
        assert hold.reason is HoldReason.VALUE_UNREADABLE
        assert "row 3" in hold.sentence

    def test_a_decimal_comma_where_the_map_says_point_is_never_a_number_ten_times_as_large(self) -> None:
        rows = [f"2026-03-01 {hour:02}:20;131,0;82,0;71" for hour in range(9, 19)]
        assert reason(a_file(*rows)) is HoldReason.VALUE_UNREADABLE

    @pytest.mark.parametrize(
        "text",
        ["1e2", "1.3.1", "131 mmHg", "١٣١", "１３１", "0x83", "1_31", "1,131", "99999", "9" * 400, "1e400", "inf"],
    )
    def test_what_is_not_a_plain_number_is_a_visible_failure(self, text: str) -> None:
        content = a_file(f"2026-03-01 09:20;{text};82;71", "2026-03-01 09:50;130;81;70")
        recording = recorded(content)
        first = recording.readings[0]
        assert (first.outcome, first.failure, first.systolic) == (Outcome.FAILED, text, None)
        assert any("row 4" in remark for remark in recording.source.remarks)

    def test_a_single_unreadable_heart_rate_costs_only_the_heart_rate(self) -> None:
        recording = recorded(a_file("2026-03-01 09:20;131;82;fast", "2026-03-01 09:50;130;81;70"))
        assert (recording.readings[0].systolic, recording.readings[0].heart_rate) == (1310, None)
        assert len(recording.source.remarks) == 1

    def test_a_blank_among_good_values_stays_a_blank_and_whole_numbers_stay_whole(self) -> None:
        rows = [f"2026-03-01 {hour:02}:20;131;82;71" for hour in range(9, 19)]
        found = readings(a_file(*rows, "2026-03-01 19:20;130;;71"))
        assert [type(each.systolic) for each in found] == [int] * 11
        assert (found[-1].outcome, found[-1].systolic, found[-1].diastolic) == (Outcome.MEASURED, 1300, None)

    def test_more_decimals_than_one_are_rounded_half_up_and_kept_raw(self) -> None:
        found = readings(a_file("2026-03-01 09:20;131.25;82.04;71"))[0]
        assert (found.systolic, found.diastolic) == (1313, 820)
        assert ("upper", "131.25") in found.raw


class TestUnits:
    """mxtommy/Kip#425, voed/esphome_prana_ble#20."""

    @pytest.mark.parametrize(
        ("upper", "lower", "systolic", "diastolic"),
        # 17.3 kPa = 129.76 mmHg, 10.7 = 80.26, 17.5 = 131.26, 10.9 = 81.76, 13.3 = 99.76 (factor 7.50062)
        [("17.3", "10.7", 1300, 800), ("17.5", "10.9", 1310, 820), ("13.3", "9.0", 1000, 680)],
    )
    def test_kpa_become_whole_mmhg_and_the_original_is_kept(
        self, upper: str, lower: str, systolic: int, diastolic: int
    ) -> None:
        found = readings(a_file(f"2026-03-01 09:20;{upper};{lower};71"), a_map(IN_KPA))[0]
        assert (found.systolic, found.diastolic, found.heart_rate) == (systolic, diastolic, 710)
        assert {("upper", upper), ("unit", "kPa")} <= set(found.raw)

    def test_the_unit_may_stand_in_the_file(self) -> None:
        content = a_file("2026-03-01 09:20;17,5;10,9;", facts="number;42\nunit;kPa\n")
        assert readings(content, a_map(UNIT_IN_FILE, form=DECIMAL_COMMA))[0].systolic == 1310

    @pytest.mark.parametrize("facts", ["number;42\n", "number;42\nunit;\n", "number;42\nunit;mmHg\n"])
    def test_values_in_kpa_that_are_not_called_so_are_held(self, facts: str) -> None:
        content = a_file("2026-03-01 09:20;17,5;10,9;", "2026-03-01 09:50;17;10;", facts=facts)
        assert reason(content, a_map(UNIT_IN_FILE, form=DECIMAL_COMMA)) is HoldReason.UNITS_DOUBTFUL

    def test_values_in_mmhg_that_are_called_kpa_are_held(self) -> None:
        assert reason(a_file("2026-03-01 09:20;131;82;"), a_map(IN_KPA)) is HoldReason.UNITS_DOUBTFUL

    def test_an_unknown_unit_is_held(self) -> None:
        content = a_file("2026-03-01 09:20;131;82;", facts="number;42\nunit;cmH2O\n")
        assert reason(content, a_map(UNIT_IN_FILE)) is HoldReason.VALUE_UNREADABLE


class TestMarksForNoValue:
    """openaq/openaq-api#8, timlaing/modbus_local_gateway#287."""

    @pytest.mark.parametrize(
        ("cells", "mark"),
        [
            ("0;0;0", "0"),
            ("255;255;255", "255"),
            ("999;999;999", "999"),
            ("-999;-999;-999", "-999"),
            ("---;---;---", "---"),
            ("E4;;", "E4"),
            (";;E4", "E4"),
            ("error;error;", "error"),
            (";;", None),
            ("131;-1;72", "-1"),
            ("131;0;72", "0"),
            ("0.0;0.0;0", "0.0"),
            ("000;000;000", "000"),
            ("N/A;N/A;N/A", "N/A"),
            ("nan;nan;nan", "nan"),
            (" 255 ;;71", "255"),
            ("999;82;71", "999"),
            ("0;82;71", "0"),
            ("131;255;71", "255"),
            ("255;0;71", "255"),
        ],
    )
    def test_a_mark_makes_a_failed_attempt_with_its_raw_mark(self, cells: str, mark: str | None) -> None:
        recording = recorded(a_file(f"2026-03-01 09:20;{cells}", "2026-03-01 09:50;130;81;70"))
        first = recording.readings[0]
        assert (first.outcome, first.failure) == (Outcome.FAILED, mark)
        assert first.systolic is first.diastolic is first.heart_rate is None
        assert recording.source.remarks == ()

    def test_a_marked_heart_rate_beside_good_pressures_is_only_a_missing_heart_rate(self) -> None:
        found = readings(a_file("2026-03-01 09:20;131;82;255"))[0]
        assert (found.outcome, found.systolic, found.heart_rate) == (Outcome.MEASURED, 1310, None)

    def test_255_beside_a_real_pressure_is_a_pressure_so_that_it_reaches_the_review(self) -> None:
        found = readings(a_file("2026-03-01 09:20;255;140;255"))[0]
        assert (found.outcome, found.systolic, found.diastolic) == (Outcome.MEASURED, 2550, 1400)
        assert found.heart_rate is None

    def test_255_alone_is_a_pressure_only_where_the_map_says_that_it_is_no_mark(self) -> None:
        found = readings(a_file("2026-03-01 09:20;255;;71"), a_map({"marks": ["0", "999"]}))[0]
        assert (found.outcome, found.systolic) == (Outcome.MEASURED, 2550)

    def test_a_decimal_comma_does_not_hide_a_mark(self) -> None:
        found = readings(a_file("2026-03-01 09:20;255,0;;71"), a_map(form=DECIMAL_COMMA))[0]
        assert (found.outcome, found.failure) == (Outcome.FAILED, "255,0")


class TestPersonNumbers:
    """uk-fci/nhs-number#19, NHSDigital/manage-vaccinations-in-schools#2914."""

    @pytest.mark.parametrize(
        "cell", ["0012345678", '"0012345678"', " 0012345678 ", "\u200b0012345678\u00a0", "\ufeff0012345678"]
    )
    def test_leading_zeros_stay_and_invisible_characters_go(self, cell: str) -> None:
        person = recorded(a_file("2026-03-01 09:20;131;82;71", facts=f"number;{cell}\n")).person
        assert person.identifier is not None
        assert person.identifier.value == "0012345678"

    def test_blanks_within_a_number_are_left_as_they_are(self) -> None:
        person = recorded(a_file("2026-03-01 09:20;131;82;71", facts="number;999 000 0018\n")).person
        assert person.identifier is not None
        assert person.identifier.value == "999 000 0018"

    @pytest.mark.parametrize(
        "cell",
        [
            "",
            "   ",
            "0000000000",
            "000 000 0000",
            "N/A",
            "n/a",
            "none",
            "Unknown",
            "-",
            "---",
            "?",
            "XXXXXXXXXX",
            "\u200b",
        ],
    )
    def test_what_stands_for_no_number_is_no_number(self, cell: str) -> None:
        assert recorded(a_file("2026-03-01 09:20;131;82;71", facts=f"number;{cell}\n")).person.identifier is None

    def test_a_file_without_the_fact_has_no_number(self) -> None:
        assert recorded(a_file("2026-03-01 09:20;131;82;71", facts="")).person.identifier is None

    @pytest.mark.parametrize("cell", ["9.99E+09", "1e10", "9990000018.0", "9,99E+09"])
    def test_a_number_that_a_spreadsheet_has_turned_is_held(self, cell: str) -> None:
        content = a_file("2026-03-01 09:20;131;82;71", facts=f'number;"{cell}"\n')
        assert reason(content) is HoldReason.VALUE_UNREADABLE

    def test_a_number_without_a_system_is_held(self) -> None:
        assert reason(GOOD, site=SiteDefaults(zone="Europe/London")) is HoldReason.IDENTIFIER_SYSTEM_UNKNOWN
