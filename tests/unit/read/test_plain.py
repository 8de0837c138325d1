"""The neutral layout `plain`, word by word: somebody who writes it from its description must be read unchanged."""

from datetime import date, time

import pytest

from gateway.mapping.site import SiteDefaults
from gateway.model import Arm, Hold, HoldReason, Identifier, Kind, Outcome, Recording, Sex
from gateway.read import read
from tests.unit.read.told import shipped

NHS = "https://fhir.nhs.uk/Id/nhs-number"
SITE = SiteDefaults(zone="Europe/London", identifier_system=NHS)
EXAMPLE = """identifier_system,https://fhir.nhs.uk/Id/nhs-number
identifier,9990000018
family_name,Example
birth_date,1961-04-09
timezone,Europe/London
asleep_from,2026-03-03T23:00
asleep_to,2026-03-04T07:00

time,systolic,diastolic,mean,heart_rate,outcome,note
2026-03-03T09:00,142,88,,76,measured,
2026-03-03T09:30,,,,,cuff-error,
"""
NOWHERE = SiteDefaults()


def result(text: str | bytes, site: SiteDefaults = SITE) -> Recording | Hold:
    return read(text if isinstance(text, bytes) else text.encode(), "x.csv", shipped(), site)


def good(text: str | bytes, site: SiteDefaults = SITE) -> Recording:
    found = result(text, site)
    assert isinstance(found, Recording), found
    return found


def reason(text: str | bytes, site: SiteDefaults = SITE) -> HoldReason:
    found = result(text, site)
    assert isinstance(found, Hold), found
    return found.reason


def with_facts(*facts: str) -> Recording:
    return good(
        "\n".join(["identifier,9990000018", *facts, "", "time,systolic,diastolic", "2026-03-03T09:00,142,88", ""])
    )


def with_table(header: str, *rows: str) -> Recording:
    return good("\n".join(["identifier,9990000018", "", header, *rows, ""]))


def test_the_described_example_needs_no_settings() -> None:
    recording = good(EXAMPLE, NOWHERE)
    assert recording.person.identifier == Identifier(NHS, "9990000018")
    assert recording.person.birth_date == date(1961, 4, 9)
    first, second = recording.readings
    assert (first.row, first.systolic, first.diastolic, first.mean, first.heart_rate) == (10, 1420, 880, None, 760)
    assert (second.row, second.outcome, second.failure) == (11, Outcome.FAILED, "cuff-error")
    assert recording.source.remarks == ()


@pytest.mark.parametrize(
    "written",
    [
        EXAMPLE.replace("\n", "\r\n").encode(),
        EXAMPLE.replace("\n", "\r").encode(),
        EXAMPLE.encode("utf-8-sig"),
        EXAMPLE.removesuffix("\n").encode(),
        EXAMPLE.replace("\n", ",,,,,\n").replace(",,,,,,,,,,", ",,,,,,").encode(),
        EXAMPLE.replace("Example", '"Example"').encode(),
        EXAMPLE.replace("T09", " 09").encode(),
        EXAMPLE.replace("T09:00", "T09:00:00").encode(),
        EXAMPLE.replace("T09:00", "T09:00:00.000+00:00").encode(),
        EXAMPLE.replace("T09:00", "T09:00Z").encode(),
        EXAMPLE.replace("\n\n", "\n\n\n").encode(),
        EXAMPLE.replace("\n\n", "\n").encode(),
        EXAMPLE.replace("measured", "").encode(),
        EXAMPLE.replace("142,88", "142.0,88.0").encode(),
    ],
)
def test_equal_files_in_other_spelling_read_the_same(written: bytes) -> None:
    expected, found = good(EXAMPLE), good(written)
    assert [(each.at, each.outcome, each.systolic, each.heart_rate, each.failure) for each in found.readings] == [
        (each.at, each.outcome, each.systolic, each.heart_rate, each.failure) for each in expected.readings
    ]
    assert found.person == expected.person
    assert found.diary == expected.diary


def test_every_fact_is_read() -> None:
    recording = with_facts(
        "given_name,Alex",
        "sex,male",
        "site,North",
        "monitor_model,M",
        "monitor_serial,0007",
        "cuff_size,large",
        "arm_circumference_cm,34",
        "arm,right",
        "order,O-1",
        "indication,check",
        "treated,yes",
        "pregnancy_weeks,20",
        "irregular_pulse,yes",
        "planned_hours,24",
        "interval_minutes_day,20",
        "interval_minutes_night,60",
        "schedule_day_from,07:00",
        "schedule_night_from,22:30",
        "fitted_at,2026-03-03T08:55",
        "removed_at,2026-03-04T09:05",
        "clinic_systolic,150",
        "clinic_diastolic,92.5",
    )
    assert recording.person.given_name == "Alex"
    assert recording.person.sex is Sex.MALE
    assert recording.site == "North"
    monitor, schedule, around = recording.monitor, recording.schedule, recording.circumstances
    assert (monitor.model, monitor.serial, monitor.cuff_size, monitor.arm_circumference, monitor.arm) == (
        "M",
        "0007",
        "large",
        34.0,
        Arm.RIGHT,
    )
    assert (schedule.interval_day, schedule.interval_night, schedule.planned) == (20, 60, 24)
    assert (schedule.day_from, schedule.night_from) == (time(7), time(22, 30))
    assert schedule.fitted_at is not None
    assert schedule.removed_at is not None
    assert (schedule.fitted_at.isoformat(), schedule.removed_at.isoformat()) == (
        "2026-03-03T08:55:00+00:00",
        "2026-03-04T09:05:00+00:00",
    )
    assert (around.order, around.indication, around.treated, around.pregnancy_weeks, around.irregular_pulse) == (
        "O-1",
        "check",
        True,
        20,
        True,
    )
    assert (around.clinic_systolic, around.clinic_diastolic) == (1500, 925)
    assert recording.source.remarks == ()


def test_the_order_of_columns_is_free_and_only_three_are_needed() -> None:
    (only,) = with_table("note,diastolic,time,systolic", "after tea,88,2026-03-03T09:00,142").readings
    assert (only.systolic, only.diastolic, only.note, only.outcome) == (1420, 880, "after tea", Outcome.MEASURED)


def test_every_column_is_read() -> None:
    (only,) = with_table(
        "time,systolic,diastolic,mean,heart_rate,outcome,kind,irregular,note",
        "2026-03-03T09:00,142,88,106,76,measured,manual,yes,x",
    ).readings
    assert (only.mean, only.heart_rate, only.kind, only.irregular) == (1060, 760, Kind.MANUAL, True)


@pytest.mark.parametrize("kind", ["scheduled", "repeat", "manual", "fitting", ""])
def test_kinds(kind: str) -> None:
    (only,) = with_table("time,systolic,diastolic,kind", f"2026-03-03T09:00,142,88,{kind}").readings
    assert only.kind == (kind or "scheduled")


@pytest.mark.parametrize("word", ["cuff-error", "movement", "E4", "low battery", "weak pulse"])
def test_any_other_outcome_word_is_a_failure_even_beside_pressures(word: str) -> None:
    (only,) = with_table("time,systolic,diastolic,outcome", f"2026-03-03T09:00,142,88,{word}").readings
    assert (only.outcome, only.failure, only.systolic) == (Outcome.FAILED, word, None)
    assert ("systolic", "142") in only.raw


def test_measured_without_any_pressure_is_a_failed_attempt() -> None:
    (only,) = with_table("time,systolic,diastolic,outcome", "2026-03-03T09:00,,,measured").readings
    assert (only.outcome, only.failure) == (Outcome.FAILED, None)


def test_sleep_may_repeat_and_is_put_in_order() -> None:
    recording = with_facts(
        "asleep_from,2026-03-04T14:00",
        "asleep_to,2026-03-04T15:00",
        "asleep_from,2026-03-03T23:00",
        "asleep_to,2026-03-04T07:00",
    )
    assert [span.start.hour for span in recording.diary.asleep] == [23, 14]


@pytest.mark.parametrize(
    "facts",
    [
        ("asleep_from,2026-03-03T23:00",),
        ("asleep_from,2026-03-03T23:00", "asleep_to,"),
        ("asleep_from,2026-03-04T07:00", "asleep_to,2026-03-03T23:00"),
        ("asleep_from,2026-03-03T23:00", "asleep_to,2026-03-03T23:00"),
        (
            "asleep_from,2026-03-03T23:00",
            "asleep_to,2026-03-04T07:00",
            "asleep_from,2026-03-04T06:00",
            "asleep_to,2026-03-04T08:00",
        ),
        # one in local time, one with its offset, in the hour that occurs twice
        ("timezone,Europe/Berlin", "asleep_from,2026-10-25T02:50+02:00", "asleep_to,2026-10-25T02:10+01:00"),
    ],
)
def test_sleep_that_cannot_be_is_held(facts: tuple[str, ...]) -> None:
    text = "\n".join(["identifier,9990000018", *facts, "", "time,systolic,diastolic", "2026-03-03T09:00,142,88", ""])
    assert reason(text) is HoldReason.SLEEP_DOUBTFUL


@pytest.mark.parametrize("word", ["1961", "1961-04", ""])
def test_a_partial_birth_date_is_no_birth_date(word: str) -> None:
    assert with_facts(f"birth_date,{word}").person.birth_date is None


@pytest.mark.parametrize(
    "fact",
    [
        "birth_date,09/04/1961",
        "birth_date,1961-13-01",
        "sex,F?",
        "arm,up",
        "treated,maybe",
        "interval_minutes_day,0",
        "interval_minutes_day,30.5",
        "planned_hours,a day",
        "schedule_day_from,7 am",
        "clinic_systolic,high",
        "arm_circumference_cm,29 cm",
        "indication,dizzy, often",
    ],
)
def test_a_fact_that_does_not_fit_is_held_and_named_by_row_only(fact: str) -> None:
    text = f"identifier,9990000018\n{fact}\n\ntime,systolic,diastolic\n2026-03-03T09:00,142,88\n"
    found = result(text)
    assert isinstance(found, Hold)
    assert found.reason is HoldReason.VALUE_UNREADABLE
    assert "row 2" in found.sentence
    assert fact.partition(",")[2] not in found.sentence


def test_the_same_fact_twice_is_held_when_it_differs_and_taken_when_it_does_not() -> None:
    assert with_facts("family_name,Vale", "family_name,Vale").person.family_name == "Vale"
    text = EXAMPLE.replace("identifier,9990000018", "identifier,9990000018\nidentifier,9990000026")
    assert reason(text) is HoldReason.FACTS_DISAGREE


def test_a_fact_that_is_not_known_is_reported_by_its_row() -> None:
    assert with_facts("asleep_form,2026-03-03T23:00").source.remarks == (
        "row 2 above the table: not known to the map, not used",
    )


def test_an_unknown_kind_is_held() -> None:
    assert reason(EXAMPLE.replace("outcome", "kind")) is HoldReason.VALUE_UNREADABLE


def test_the_sites_number_system_and_zone_stand_in() -> None:
    text = EXAMPLE.replace("identifier_system", "x").replace("timezone", "y")
    assert good(text).person.identifier == Identifier(NHS, "9990000018")
    assert good(text).source.zone_origin == "site"
    assert reason(text, SiteDefaults(zone="Europe/London")) is HoldReason.IDENTIFIER_SYSTEM_UNKNOWN
    assert reason(text, SiteDefaults(identifier_system=NHS)) is HoldReason.TIME_ZONE_UNKNOWN
