"""What a map may declare beyond the shipped ones, and the zone of times outside the table."""

import pytest

from gateway.mapping.site import SiteDefaults
from gateway.model import HoldReason, Identifier, Outcome
from tests.unit.read.layouts import a_file, a_map, lines, readings, reason, recorded

ROW = "2026-03-01 09:20;131;82;71"
ISO = {"time": {"how": "instant", "column": "taken", "pattern": "iso"}}
NOWHERE = SiteDefaults(identifier_system="urn:x")
SLEEP = {
    "diary": {
        "asleep": [
            {
                "fell_asleep": {"how": "instant", "fact": "to bed", "pattern": "iso"},
                "woke": {"how": "instant", "fact": "up", "pattern": "iso"},
            }
        ]
    }
}
IN_BED = "number;42\nto bed;2026-07-01T23:00\nup;2026-07-02T07:00\n"


def status(**more: object) -> dict[str, object]:
    return {"status": {"column": "beats", "measured": ["ok"], "failed": ["bad"], **more}, "heart_rate": None}


class TestStatus:
    def test_a_code_that_is_not_listed_is_held(self) -> None:
        assert reason(a_file("2026-03-01 09:20;131;82;odd"), a_map(status())) is HoldReason.VALUE_UNREADABLE

    @pytest.mark.parametrize(
        ("word", "outcome"), [("ok", "measured"), (" OK ", "measured"), ("bad", "failed"), ("", "measured")]
    )
    def test_codes(self, word: str, outcome: str) -> None:
        assert readings(a_file(f"2026-03-01 09:20;131;82;{word}"), a_map(status()))[0].outcome == outcome

    def test_an_empty_cell_may_be_declared_a_failure(self) -> None:
        found = readings(a_file("2026-03-01 09:20;131;82;"), a_map(status(empty="failed")))[0]
        assert (found.outcome, found.failure, found.systolic) == (Outcome.FAILED, None, None)

    def test_a_mark_in_a_pressure_counts_even_when_the_status_says_measured(self) -> None:
        found = readings(a_file("2026-03-01 09:20;0;82;ok"), a_map(status()))[0]
        assert (found.outcome, found.failure) == (Outcome.FAILED, "0")


SLEEP_CODES = {"column": "mark", "codes": {"s": True, "a": False}}


class TestSleepMark:
    FILE = a_file(ROW + ";s", "2026-03-01 09:50;130;81;70;", header="taken;upper;lower;beats;mark")

    def test_a_diary_mark_is_kept(self) -> None:
        source = a_map({"asleep_mark": {**SLEEP_CODES, "means": "diary"}})
        assert [each.asleep_mark for each in readings(self.FILE, source)] == [True, None]

    def test_a_mark_of_the_programme_is_never_taken_for_sleep(self) -> None:
        source = a_map({"asleep_mark": {**SLEEP_CODES, "means": "programme"}})
        assert [each.asleep_mark for each in readings(self.FILE, source)] == [None, None]


class TestPlaces:
    def test_a_constant_of_the_map(self) -> None:
        person = {"identifier": {"fact": "number"}, "identifier_system": {"constant": "urn:y"}}
        assert recorded(a_file(ROW), a_map(person=person)).person.identifier == Identifier("urn:y", "0042")

    def test_another_sign_between_name_and_value(self) -> None:
        content = a_file(ROW, facts="number: 0042; also\nship: Anna\n")
        source = a_map(form={"fact_separator": ":"}, kept=["ship"])
        recording = recorded(content, source)
        assert recording.person.identifier is not None
        assert recording.person.identifier.value == "0042; also"
        assert recording.facts == (("ship", "Anna"),)

    def test_known_but_unneeded_facts_and_columns_are_not_reported(self) -> None:
        content = a_file(ROW + ";1", header="taken;upper;lower;beats;no", facts="number;42\nprinted;x;y\n")
        assert recorded(content, a_map(ignored=["No", "Printed"])).source.remarks == ()

    def test_a_code_for_an_empty_cell(self) -> None:
        source = a_map({"irregular": {"column": "pulse", "codes": {"~": True}, "empty": False}})
        content = a_file(ROW + ";~", "2026-03-01 09:50;130;81;70;", header="taken;upper;lower;beats;pulse")
        assert [each.irregular for each in readings(content, source)] == [True, False]

    def test_clinic_pressures_are_in_the_unit_of_the_readings_and_know_marks(self) -> None:
        places = {"clinic_systolic": {"fact": "desk"}, "clinic_diastolic": {"fact": "desk", "part": 2}}
        content = a_file("2026-03-01 09:20;17.3;10.7;", facts="number;42\ndesk;20.0;0\n")
        around = recorded(content, a_map({"unit": "kPa"}, circumstances=places)).circumstances
        assert (around.clinic_systolic, around.clinic_diastolic) == (1500, None)  # 20.0 kPa = 150.01 mmHg


class TestZoneOfTheDiary:
    """Sleep times without an offset, in files whose readings carry theirs."""

    def asleep(self, *times: str, site: SiteDefaults) -> str:
        content = a_file(*(f"{time};131;82;71" for time in times), facts=IN_BED)
        return recorded(content, a_map(ISO, **SLEEP), site).diary.asleep[0].start.isoformat()[-6:]

    def test_the_sites_zone_if_it_agrees_with_the_readings(self) -> None:
        site = SiteDefaults(zone="Europe/Berlin", identifier_system="urn:x")
        assert self.asleep("2026-07-01T09:00+02:00", site=site) == "+02:00"

    @pytest.mark.parametrize(
        "site",
        [
            NOWHERE,
            SiteDefaults(zone="Europe/London", identifier_system="urn:x"),
            SiteDefaults(zone="UTC", zone_assumed=True, identifier_system="urn:x"),
        ],
    )
    def test_else_the_one_offset_that_all_readings_share(self, site: SiteDefaults) -> None:
        assert self.asleep("2026-07-01T09:00+02:00", "2026-07-01T09:30+02:00", site=site) == "+02:00"

    def test_else_it_is_not_known(self) -> None:
        content = a_file("2026-07-01T09:00+02:00;131;82;71", "2026-07-01T09:30+03:00;131;82;71", facts=IN_BED)
        assert reason(content, a_map(ISO, **SLEEP), NOWHERE) is HoldReason.TIME_ZONE_UNKNOWN

    def test_an_offset_that_contradicts_the_zone_of_the_file_is_remarked(self) -> None:
        recording = recorded(
            a_file("2026-07-01T09:00+05:00;131;82;71", facts="number;42\nzone;Europe/Berlin\n"), a_map(ISO)
        )
        assert recording.readings[0].at.isoformat() == "2026-07-01T06:00:00+02:00"
        assert "the offset counts" in recording.source.remarks[0]


def test_rows_stand_in_the_order_of_the_file_even_when_times_jump() -> None:
    found = lines(a_file("2026-03-01 09:50;130;81;70", "2026-03-01 09:20;131;82;71"))
    assert [each[11:16] for each in found] == ["09:50", "09:20"]
