"""Faults of exported times seen in the field, and their neighbours. Each class names a public report.

Clock changes are those of the IANA time zone database: Europe/Berlin went back on 25 October 2026 at 03:00 (+02:00 to
+01:00) and forward on 29 March 2026 at 02:00.
"""

from datetime import UTC, timedelta
from itertools import pairwise

import pytest

from gateway.mapping.site import SiteDefaults
from gateway.model import HoldReason
from tests.unit.read.layouts import a_file, a_map, held, readings, reason, recorded

BERLIN = SiteDefaults(zone="Europe/Berlin", identifier_system="https://example.org/site-number")


def instant(pattern: str) -> dict[str, object]:
    return {"time": {"how": "instant", "column": "taken", "pattern": pattern}}


TIME_ONLY = {
    "time": {
        "how": "time-only",
        "time": {"column": "taken", "pattern": "hh:mm"},
        "starts_on": {"fact": "began", "pattern": "YYYY-MM-DD"},
    }
}
TWO_COLUMNS = {
    "time": {
        "how": "date-and-time",
        "date": {"column": "day", "pattern": "DD/MM/YYYY"},
        "time": {"column": "taken", "pattern": "h:mm"},
    }
}


def at(
    *times: str, site: SiteDefaults = BERLIN, how: dict[str, object] | None = None, facts: str = "number;42\n"
) -> list[str]:
    content = a_file(*(f"{time};131;82;71" for time in times), facts=facts)
    return [each.at.isoformat(timespec="minutes") for each in readings(content, a_map(how), site)]


def refused(*times: str, how: dict[str, object] | None = None, facts: str = "number;42\n") -> HoldReason:
    return reason(a_file(*(f"{time};131;82;71" for time in times), facts=facts), a_map(how), BERLIN)


class TestEndOfDay:
    """springfall2008/batpred#3651."""

    @pytest.mark.parametrize(
        ("pattern", "text"), [("YYYY-MM-DD hh:mm", "24:00"), ("YYYY-MM-DD hh:mm:ss", "24:00:00"), ("iso", "24:00")]
    )
    def test_exactly_24_is_the_next_midnight(self, pattern: str, text: str) -> None:
        assert at(f"2026-03-01 {text}", how=instant(pattern)) == ["2026-03-02T00:00+01:00"]

    @pytest.mark.parametrize("text", ["24:20", "25:00", "09:60", "99:99"])
    def test_any_other_impossible_time_costs_its_own_row_visibly(self, text: str) -> None:
        recording = recorded(a_file(f"2026-03-01 {text};131;82;71", "2026-03-02 00:30;130;81;70"))
        assert [each.systolic for each in recording.readings] == [1300]
        assert recording.source.remarks == ("row 4: no clock shows such a time; not used",)

    def test_not_one_possible_time_is_held(self) -> None:
        assert refused("2026-03-01 24:20") is HoldReason.TIME_UNREADABLE

    def test_many_impossible_times_are_held(self) -> None:
        assert (
            refused(*[f"2026-03-01 24:{m}" for m in range(20, 24)], "2026-03-02 00:30") is HoldReason.TIME_UNREADABLE
        )


class TestHalfDays:
    """submersion-app/submersion#63."""

    def test_12_hour_times_are_read_with_their_mark(self) -> None:
        how = instant("DD/MM/YYYY h:mm ap")
        texts = ("12:20 AM", "12:20 PM", "1:05 PM", "01:05 p.m.")
        assert at(*(f"05/06/2026 {text}" for text in texts), how=how) == [
            "2026-06-05T00:20+02:00",
            "2026-06-05T12:20+02:00",
            "2026-06-05T13:05+02:00",
            "2026-06-05T13:05+02:00",
        ]

    @pytest.mark.parametrize("text", ["13:05 PM", "0:20 AM"])
    def test_a_24_hour_time_with_a_mark_is_no_time(self, text: str) -> None:
        assert refused(f"05/06/2026 {text}", how=instant("DD/MM/YYYY h:mm ap")) is HoldReason.TIME_UNREADABLE

    @pytest.mark.parametrize(("pattern", "text"), [("DD/MM/YYYY h:mm", "1:05 PM"), ("DD/MM/YYYY h:mm ap", "1:05")])
    def test_mark_in_the_file_and_in_the_map_go_together_or_not_at_all(self, pattern: str, text: str) -> None:
        assert refused(f"05/06/2026 {text}", "05/06/2026 14:00", how=instant(pattern)) is HoldReason.TIME_UNREADABLE


class TestDayAndMonth:
    """pandas-dev/pandas#14301, #37895."""

    def test_only_the_map_says_which_comes_first(self) -> None:
        times = ("05/06/2026 22:00", "06/06/2026 21:40")
        assert at(*times, how=instant("DD/MM/YYYY hh:mm"))[0] == "2026-06-05T22:00+02:00"
        assert at(*times, how=instant("MM/DD/YYYY hh:mm"))[0] == "2026-05-06T22:00+02:00"

    def test_a_date_that_proves_the_order_wrong_holds_the_file_even_once(self) -> None:
        good = [f"12/06/2026 {hour:02}:00" for hour in range(24)]
        assert refused(*good, "13/06/2026 00:00", how=instant("MM/DD/YYYY hh:mm")) is HoldReason.TIME_UNREADABLE

    @pytest.mark.parametrize("text", ["31/02/2026 10:00", "00/06/2026 10:00", "01/06/0026 10:00", "01/06/9999 10:00"])
    def test_a_day_that_no_calendar_has_holds_the_file(self, text: str) -> None:
        assert refused("12/06/2026 09:00", text, how=instant("DD/MM/YYYY hh:mm")) is HoldReason.TIME_UNREADABLE


class TestClocksGoBack:
    """SEED-platform/seed#4286, pandas-dev/pandas#29031."""

    def test_the_order_in_the_file_decides_which_of_two_hours_it_is(self) -> None:
        night = ("01:40", "02:10", "02:40", "02:10", "02:40", "03:10")
        content = a_file(*(f"2026-10-25 {time};131;82;71" for time in night))
        found = [each.at for each in readings(content, site=BERLIN)]
        assert [each.isoformat(timespec="minutes")[11:] for each in found] == [
            "01:40+02:00",
            "02:10+02:00",
            "02:40+02:00",
            "02:10+01:00",
            "02:40+01:00",
            "03:10+01:00",
        ]
        real = [each.astimezone(UTC) for each in found]
        assert {second - first for first, second in pairwise(real)} == {timedelta(minutes=30)}

    def test_the_same_minute_twice_is_two_instants(self) -> None:
        assert at("2026-10-25 01:30", "2026-10-25 02:30", "2026-10-25 02:30", "2026-10-25 03:30")[1:3] == [
            "2026-10-25T02:30+02:00",
            "2026-10-25T02:30+01:00",
        ]

    def test_the_same_minute_twice_is_said(self) -> None:
        content = a_file("2026-10-25 02:30;131;82;71", "2026-10-25 02:30;128;80;70")
        assert "not the order" in recorded(content, site=BERLIN).source.remarks[0]

    def test_a_repeat_in_the_same_minute_stays_in_its_hour_and_it_is_said(self) -> None:
        header, kinds = (
            "taken;upper;lower;kind",
            {"kind": {"column": "kind", "codes": {"r": "repeat"}, "empty": "scheduled"}},
        )
        pair = ("2026-10-25 02:30;131;82;", "2026-10-25 02:30;128;80;r")
        found = recorded(a_file(*pair, header=header), a_map(kinds), BERLIN)
        assert [each.at.isoformat()[-6:] for each in found.readings] == ["+02:00"] * 2
        assert "taken as the first" in found.source.remarks[0]

    def test_the_same_minute_twice_among_others_turns_no_clock_and_it_is_said(self) -> None:
        rows = (f"2026-10-25 {time};131;82;71" for time in ("02:10", "02:10", "02:40"))
        found = recorded(a_file(*rows), site=BERLIN)
        assert [each.at.isoformat()[-6:] for each in found.readings] == ["+02:00"] * 3
        assert "taken as the first" in found.source.remarks[0]

    def test_a_repeat_within_the_same_minute_does_not_turn_the_clock_when_a_fall_follows(self) -> None:
        times = [f"2026-10-25 {time}" for time in ("02:10", "02:10", "02:40", "02:10", "02:40")]
        assert [each[-6:] for each in at(*times)] == ["+02:00"] * 3 + ["+01:00"] * 2

    def test_one_time_in_that_hour_is_the_first_and_said_so(self) -> None:
        recording = recorded(a_file("2026-10-25 02:30;131;82;71", "2026-10-25 03:30;131;82;71"), site=BERLIN)
        assert recording.readings[0].at.isoformat() == "2026-10-25T02:30:00+02:00"
        assert "taken as the first" in recording.source.remarks[0]

    def test_a_second_fall_within_that_hour_is_held(self) -> None:
        times = [f"2026-10-25 {time}" for time in ("02:40", "02:10", "02:40", "02:10")]
        assert refused(*times) is HoldReason.TIME_NOT_RISING

    def test_times_with_offsets_need_no_order(self) -> None:
        assert at("2026-10-25T02:10+01:00", "2026-10-25T02:10+02:00", how=instant("iso")) == [
            "2026-10-25T02:10+01:00",
            "2026-10-25T02:10+02:00",
        ]


class TestClocksGoForward:
    def test_a_time_that_was_skipped_is_held(self) -> None:
        hold = held(a_file("2026-03-29 01:30;130;81;", "2026-03-29 02:30;131;82;71"), site=BERLIN)
        assert hold.reason is HoldReason.TIME_DOUBTFUL
        assert "row 5" in hold.sentence

    def test_the_offset_changes_over_the_night(self) -> None:
        assert at("2026-03-29 01:30", "2026-03-29 03:30") == ["2026-03-29T01:30+01:00", "2026-03-29T03:30+02:00"]


class TestTimesWithoutDates:
    """travisdesell/ngafid2.0#330, tumic0/GPXSee#635."""

    FACTS = "number;42\nbegan;2026-03-01\n"

    def test_the_date_advances_once_when_the_time_falls(self) -> None:
        found = at("09:20", "23:40", "00:10", "09:00", "09:25", how=TIME_ONLY, facts=self.FACTS)
        assert found == [
            "2026-03-01T09:20+01:00",
            "2026-03-01T23:40+01:00",
            "2026-03-02T00:10+01:00",
            "2026-03-02T09:00+01:00",
            "2026-03-02T09:25+01:00",
        ]

    def test_24_is_midnight_and_does_not_advance_twice(self) -> None:
        found = at("23:30", "24:00", "00:30", how=TIME_ONLY, facts=self.FACTS)
        assert [each[:16] for each in found] == ["2026-03-01T23:30", "2026-03-02T00:00", "2026-03-02T00:30"]

    def test_the_same_time_twice_is_no_fall(self) -> None:
        assert {each[:10] for each in at("09:20", "09:20", how=TIME_ONLY, facts=self.FACTS)} == {"2026-03-01"}

    def test_a_second_fall_is_held(self) -> None:
        times = ("09:20", "23:40", "00:10", "23:50", "00:20")
        assert refused(*times, how=TIME_ONLY, facts=self.FACTS) is HoldReason.TIME_NOT_RISING

    def test_the_fall_of_a_clock_change_is_no_second_midnight(self) -> None:
        facts = "number;42\nbegan;2026-10-24\n"
        found = at("09:20", "23:40", "01:40", "02:10", "02:40", "02:10", "03:10", "09:10", how=TIME_ONLY, facts=facts)
        assert found[-4:] == [
            "2026-10-25T02:40+02:00",
            "2026-10-25T02:10+01:00",
            "2026-10-25T03:10+01:00",
            "2026-10-25T09:10+01:00",
        ]

    @pytest.mark.parametrize(
        "facts", ["number;42\n", "number;42\nbegan;\n", "number;42\nbegan;2026-03-01\nbegan;2026-03-02\n"]
    )
    def test_without_one_date_of_the_first_time_nothing_is_placed(self, facts: str) -> None:
        assert refused("09:20", how=TIME_ONLY, facts=facts) is HoldReason.TIME_UNREADABLE

    def test_explicit_dates_win(self) -> None:
        content = a_file(
            "01/03/2026;23:40;131;82",
            "02/03/2026;0:10;131;82",
            "02/03/2026;24:00;131;82",
            header="day;taken;upper;lower",
        )
        found = [each.at.isoformat(timespec="minutes") for each in readings(content, a_map(TWO_COLUMNS))]
        assert found == ["2026-03-01T23:40+00:00", "2026-03-02T00:10+00:00", "2026-03-03T00:00+00:00"]


class TestZone:
    """HL7 FHIR R4 dateTime: a clock time always carries an offset (http://hl7.org/fhir/R4/datatypes.html#dateTime)."""

    ROW = "2026-07-01T09:00;131;82;71"
    ISO = a_map(instant("iso"))

    def test_without_any_zone_the_file_is_held(self) -> None:
        assert (
            reason(a_file(self.ROW), self.ISO, SiteDefaults(identifier_system="urn:x"))
            is HoldReason.TIME_ZONE_UNKNOWN
        )

    @pytest.mark.parametrize(
        "name",
        [
            "Europe/Londom",
            "localtime",
            "../etc/passwd",
            "/etc/localtime",
            "CEST",
            "right/Europe/London",
            "Factory",
            "Europe",
        ],
    )
    def test_a_zone_that_does_not_exist_is_held(self, name: str) -> None:
        content = a_file(self.ROW, facts=f"number;42\nzone;{name}\n")
        assert reason(content, self.ISO) is HoldReason.TIME_ZONE_UNKNOWN

    def test_the_zone_in_the_file_beats_that_of_the_site(self) -> None:
        recording = recorded(a_file(self.ROW, facts="number;42\nzone;Europe/Lisbon\n"), self.ISO, BERLIN)
        assert recording.readings[0].at.isoformat() == "2026-07-01T09:00:00+01:00"
        assert (recording.zone, recording.source.zone_origin) == ("Europe/Lisbon", "file")

    def test_an_assumed_zone_is_said_to_be_assumed(self) -> None:
        site = SiteDefaults(zone="UTC", zone_assumed=True, identifier_system="urn:x")
        assert recorded(a_file(self.ROW), self.ISO, site).source.zone_origin == "assumed"

    @pytest.mark.parametrize("zone", ["+05:30", "+0530", "+05:30"])
    def test_an_offset_in_the_cell_is_honoured_and_kept(self, zone: str) -> None:
        recording = recorded(
            a_file(f"2026-07-01T09:00{zone};131;82;71"), self.ISO, SiteDefaults(identifier_system="urn:x")
        )
        assert recording.readings[0].at.isoformat() == "2026-07-01T09:00:00+05:30"
        assert (recording.zone, recording.source.zone_origin) == (None, "cell")

    def test_an_offset_in_the_cell_beats_the_zone_of_the_file_and_is_shown_in_it(self) -> None:
        recording = recorded(a_file("2026-07-01T09:00Z;131;82;71", facts="number;42\nzone;Europe/Berlin\n"), self.ISO)
        assert recording.readings[0].at.isoformat() == "2026-07-01T11:00:00+02:00"

    @pytest.mark.parametrize(
        "text", ["2026-07-01T09:00+25:00", "2026-07-01T09:00+01:75", "2026-07-01", "09:00", "", "1751360400"]
    )
    def test_what_is_no_time_holds_the_file(self, text: str) -> None:
        assert reason(a_file(f"{text};131;82;71", self.ROW), self.ISO) is HoldReason.TIME_UNREADABLE
