"""What a draft proposes, what it asks, and that it carries nothing of a person."""

import tomllib
from datetime import UTC, datetime, timedelta
from time import perf_counter
from typing import Any

import pytest

from gateway.drafting import Draft, NoDraft, propose
from gateway.mapping.parse import parse
from gateway.mapping.source import SourceMap
from gateway.model import Recording
from gateway.read import read
from tests.unit.drafting.exports import (
    DATES,
    HEADERS,
    SHOWN,
    SITE,
    WORDS,
    Layout,
    Truth,
    a_draft,
    local,
    tried,
    written,
)
from tests.unit.read.told import SAMPLES, shipped

NOW = datetime(2026, 11, 1, tzinfo=UTC)


def a_night(start: datetime, count: int = 30, step: int = 47) -> list[Truth]:
    return [
        Truth(start + timedelta(minutes=step * n), 10 * (120 + n), 10 * (75 + n % 9), 10 * (60 + n))
        for n in range(count)
    ]


def drafted(layout: Layout, truth: list[Truth]) -> tuple[Draft, bytes]:
    content, _ = written(truth, layout)
    return a_draft(content, NOW), content


def keys(draft: Draft) -> dict[str, Any]:
    return tomllib.loads(draft.text)


RENAMED = {
    "plain-layout.csv": {
        "time,systolic,diastolic,mean,heart_rate,outcome,kind,irregular,note": (
            "Zeitpunkt,Systolisch,Diastolisch,Mitteldruck,Puls,Ergebnis,Messart,Arrhythmie,Bemerkung"
        ),
    },
    "fenmarch-layout.txt": {
        "Day;Clock;Went;Upper;Lower;Middle;Beats;Pulse;Begun by;Remark": (
            "Datum;Tijd;Resultaat;Bovendruk;Onderdruk;Gemiddelde druk;Hartslag;Ritme;Soort;Opmerking"
        ),
        "Wearer number": "Patientnummer",
    },
}


@pytest.mark.parametrize("name", sorted(RENAMED))
def test_the_samples_with_other_words_are_read_as_by_their_own_maps(name: str) -> None:
    content = (SAMPLES / name).read_bytes()
    truth = read(content, name, shipped(), SITE)
    for old, new in RENAMED[name].items():
        assert old.encode() in content
        content = content.replace(old.encode(), new.encode())
    found = tried(a_draft(content, NOW), content)
    assert isinstance(found, Recording) and isinstance(truth, Recording)
    assert [each.at.replace(tzinfo=None) for each in found.readings] == [
        each.at.replace(tzinfo=None) for each in truth.readings
    ]
    for part in ("row", "outcome", "systolic", "diastolic", "mean", "heart_rate", "failure", "note"):
        assert [getattr(each, part) for each in found.readings] == [getattr(each, part) for each in truth.readings]
    assert found.person.identifier == truth.person.identifier


@pytest.mark.parametrize("language", sorted(HEADERS))
@pytest.mark.parametrize("place", ["one", "two"])
def test_columns_are_known_in_eight_languages(language: str, place: str) -> None:
    truth = a_night(local(2026, 3, 13, 9, 0))
    draft, content = drafted(Layout(language=language, place=place), truth)
    found = tried(draft, content)
    assert isinstance(found, Recording)
    assert [(e.at.replace(tzinfo=None), e.systolic, e.diastolic, e.heart_rate) for e in found.readings] == [
        (e.at, e.systolic, e.diastolic, e.heart_rate) for e in truth
    ]
    assert not draft.questions & {"readings.time", "readings.unit", "readings.systolic", "readings.heart_rate"}


class TestDates:
    @pytest.mark.parametrize("form", [each for each in DATES if each not in ("YYYY-MM-DD", "YYYY/MM/DD")])
    def test_a_day_above_twelve_proves_the_order(self, form: str) -> None:
        draft, content = drafted(Layout(date=form), a_night(local(2024, 2, 28, 20, 0)))
        found = tried(draft, content)
        assert isinstance(found, Recording)
        assert found.began.replace(tzinfo=None) == local(2024, 2, 28, 20, 0)

    @pytest.mark.parametrize("form", ["DD/MM/YYYY", "MM/DD/YYYY"])
    def test_midnight_proves_the_order_where_no_day_is_above_twelve(self, form: str) -> None:
        draft, _ = drafted(Layout(date=form), a_night(local(2026, 3, 4, 9, 0)))
        assert keys(draft)["readings"]["time"]["date"]["pattern"] == form
        assert "readings.time" not in draft.questions

    def test_one_afternoon_leaves_day_and_month_open(self) -> None:
        draft, _ = drafted(Layout(date="MM/DD/YYYY"), a_night(local(2026, 3, 4, 13, 0), count=6))
        assert "readings.time" in draft.questions
        assert "OPEN QUESTION: 'DD/MM/YYYY' or 'MM/DD/YYYY'?" in draft.text

    def test_the_future_alone_proves_nothing_since_clocks_of_monitors_are_wrong(self) -> None:
        draft, _ = drafted(Layout(date="DD/MM/YYYY"), a_night(local(2026, 5, 12, 13, 0), count=6))
        assert keys(draft)["readings"]["time"]["date"]["pattern"] == "DD/MM/YYYY"
        assert "readings.time" in draft.questions

    def test_a_morning_does_not_prove_a_clock_of_24_hours(self) -> None:
        draft, _ = drafted(Layout(), a_night(local(2026, 3, 14, 8, 0), count=5))
        assert "readings.time" in draft.questions
        assert "morning or afternoon?" in draft.text

    def test_twelve_hours_without_their_half_are_asked_about(self) -> None:
        clock = "twelve hours, half of the day not said"
        draft, _ = drafted(Layout(clock=clock), a_night(local(2026, 3, 14, 8, 0)))
        assert "readings.time" in draft.questions

    def test_the_date_above_the_table_is_always_asked_about(self) -> None:
        draft, content = drafted(Layout(place="clock only"), a_night(local(2026, 3, 14, 9, 0)))
        assert "readings.time" in draft.questions
        assert isinstance(tried(draft, content), Recording)

    def test_clock_times_without_any_date_give_no_draft(self) -> None:
        content = b"Time;Sys;Dia\n09:00;120;80\n09:30;121;81\n"
        assert isinstance(propose(content, WORDS, NOW), NoDraft)

    def test_two_forms_in_one_column_give_no_draft(self) -> None:
        content = b"Time;Sys;Dia\n13.03.2026 09:00;120;80\n13/03/2026 09:30;121;81\n"
        assert isinstance(propose(content, WORDS, NOW), NoDraft)


class TestUnits:
    def test_pressures_above_fifty_cannot_be_kpa(self) -> None:
        draft, _ = drafted(Layout(unit_said=False), a_night(local(2026, 3, 14, 9, 0)))
        assert keys(draft)["readings"]["unit"] == "mmHg"
        assert "readings.unit" not in draft.questions

    def test_kpa_needs_its_word_for_another_unit_has_such_numbers_too(self) -> None:
        truth = a_night(local(2026, 3, 14, 9, 0))
        said, _ = drafted(Layout(unit="kPa", decimal="."), truth)
        silent, _ = drafted(Layout(unit="kPa", decimal=".", unit_said=False), truth)
        assert "readings.unit" not in said.questions
        assert "readings.unit" in silent.questions
        assert keys(said)["readings"]["unit"] == keys(silent)["readings"]["unit"] == "kPa"

    def test_a_header_that_its_numbers_deny_is_asked_about(self) -> None:
        draft = a_draft(b"Time;Sys (kPa);Dia (kPa)\n2026-03-14 09:00;120;80\n2026-03-14 19:00;121;81\n", NOW)
        assert "readings.unit" in draft.questions

    def test_a_file_without_decimals_leaves_the_decimal_mark_open(self) -> None:
        draft, _ = drafted(Layout(decimal=""), a_night(local(2026, 3, 14, 9, 0)))
        assert "format.decimal" in draft.questions

    def test_pressures_under_each_others_header_are_asked_about(self) -> None:
        rows = b"".join(b"2026-03-14 %02d:00;80;120\n" % hour for hour in range(9, 20))
        draft = a_draft(b"Time;Sys;Dia\n" + rows, NOW)
        assert {"readings.systolic", "readings.diastolic"} <= draft.questions


class TestWords:
    def test_numbers_that_no_pressure_has_are_proposed_as_marks(self) -> None:
        content, _ = written(
            [*a_night(local(2026, 3, 14, 9, 0)), Truth(local(2026, 3, 15, 9, 0), None, None, None)],
            Layout(failed=("x", "888")),
        )
        draft = a_draft(content, NOW)
        assert "888" in keys(draft)["readings"]["marks"]
        assert "readings.marks" in draft.questions

    def test_a_known_word_beside_pressures_means_measured(self) -> None:
        truth = [*a_night(local(2026, 3, 14, 9, 0)), Truth(local(2026, 3, 15, 9, 0), None, None, None)]
        draft, _ = drafted(Layout(), truth)
        assert keys(draft)["readings"]["status"] == {"column": "Status", "measured": ["ok"], "failed": ["E4"]}
        assert "readings.status" not in draft.questions

    def test_an_unknown_word_beside_pressures_is_asked_about(self) -> None:
        content, _ = written(a_night(local(2026, 3, 14, 9, 0)), Layout())
        draft = a_draft(content.replace(b"ok", b"X7"), NOW)
        assert "readings.status" in draft.questions

    def test_a_column_with_two_meanings_is_known_by_its_cells(self) -> None:
        content = "Día;Hora;Sistólica;Dia\n14/03/2026;09:00;120;80\n14/03/2026;19:00;121;81\n".encode()
        times = keys(a_draft(content, NOW))["readings"]
        assert times["time"]["date"]["column"] == "Día"
        assert times["diastolic"] == {"column": "Dia"}

    def test_a_sleep_mark_is_taken_for_the_programme_and_asked_about(self) -> None:
        content = b"Time;Sys;Dia;Day/Night\n2026-03-14 09:00;120;80;day\n2026-03-14 23:00;110;70;night\n"
        draft = a_draft(content, NOW)
        assert keys(draft)["readings"]["asleep_mark"]["means"] == "programme"
        assert "readings.asleep_mark" in draft.questions

    def test_words_are_written_as_they_are_compared(self) -> None:
        with pytest.raises(ValueError, match="without accents"):
            type(WORDS).model_validate({**WORDS.model_dump(), "sexes": {"male": ["Männlich"]}})


class TestForm:
    @pytest.mark.parametrize("language", ["pl", "fr"])
    def test_an_unmarked_code_page_is_asked_about(self, language: str) -> None:
        encoding = {"pl": "windows-1250", "fr": "windows-1252"}[language]
        draft, content = drafted(Layout(language=language, encoding=encoding), a_night(local(2026, 3, 14, 9, 0)))
        assert "format.code_page" in draft.questions
        assert isinstance(tried(draft, content), Recording)

    def test_a_byte_order_mark_decides(self) -> None:
        draft, content = drafted(Layout(language="pl", encoding="utf-16"), a_night(local(2026, 3, 14, 9, 0)))
        assert "code_page" not in keys(draft)["format"]
        assert isinstance(tried(draft, content), Recording)

    def test_a_footer_ends_the_table_and_is_asked_about(self) -> None:
        draft, content = drafted(Layout(footer=True), a_night(local(2026, 3, 14, 9, 0)))
        assert keys(draft)["format"]["ends"] == ["--- end ---"]
        assert "format.ends" in draft.questions
        assert isinstance(tried(draft, content), Recording)

    def test_a_colon_between_name_and_value_is_seen(self) -> None:
        content = b"Patient ID: 9990000018\nSerial number: T-1\n\nTime;Sys;Dia\n2026-03-14 09:00;120;80\n"
        draft = a_draft(content, NOW)
        assert keys(draft)["format"]["fact_separator"] == ":"
        found = tried(draft, content)
        assert isinstance(found, Recording) and found.person.identifier is not None
        assert (found.person.identifier.value, found.monitor.serial) == ("9990000018", "T-1")

    @pytest.mark.parametrize(
        "content",
        [b"", b"hello\n", b"\x00\x01\x02", b"a;b\n1;2\n", b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", b'"Sys;Dia;Time\n'],
    )
    def test_what_is_no_export_gives_a_sentence(self, content: bytes) -> None:
        found = propose(content, WORDS, NOW)
        assert isinstance(found, NoDraft)
        assert len(found.sentence) > 20

    @pytest.mark.parametrize(
        "content",
        [
            b";" * 4_000_000 + b"\nTime;Sys;Dia\n",
            b"(" * 4_000_000,
            b"Time;Sys;Dia\n" + b"1 " * 60_000 + b";120;80\n",
            b"Sys;Dia;Time\n" * 300_000,
            ("Sys;Dia;" + "(" * 100_000 + "\n").encode() * 20,
        ],
        ids=["cells", "brackets", "digits", "headers", "long words"],
    )
    def test_a_hostile_file_costs_little_time(self, content: bytes) -> None:
        began = perf_counter()
        assert isinstance(propose(content, WORDS, NOW), NoDraft)
        assert perf_counter() - began < 15  # seconds, generous for a busy machine

    def test_a_word_beside_pressures_is_no_measured_one_where_others_are_blank(self) -> None:
        truth = a_night(local(2026, 3, 14, 9, 0))
        content, _ = written(
            [*truth, Truth(local(2026, 3, 15, 9, 0), None, None, None)], Layout(good="", failed=("E4", SHOWN))
        )
        draft = a_draft(content, NOW)
        assert keys(draft)["readings"]["status"]["failed"] == ["E4"]
        assert "readings.status" in draft.questions

    def test_a_draft_says_so_and_parses(self) -> None:
        draft, _ = drafted(Layout(), a_night(local(2026, 3, 14, 9, 0)))
        assert parse(draft.text.encode(), SourceMap, "draft").draft is True

    def test_every_guess_stands_under_its_evidence(self) -> None:
        draft, _ = drafted(Layout(), a_night(local(2026, 3, 14, 9, 0)))
        lines = draft.text.splitlines()
        for guess in (each for each in draft.guesses if each.evidence):
            at = next(n for n, line in enumerate(lines) if line.startswith(f"{guess.key.rpartition('.')[2]} = "))
            assert lines[at - 1].startswith("# CONFIRM: ")

    def test_quotes_and_signs_in_headers_stay_inside_their_strings(self) -> None:
        content = b'Time;Sys;Dia;"a ""b"" \\ = # ]"\n2026-03-14 09:00;120;80;x\n2026-03-14 19:00;120;80;x\n'
        draft = a_draft(content, NOW)
        assert keys(draft)["signs"]["columns"][3] == 'a "b" \\ = # ]'
        assert isinstance(tried(draft, content), Recording)


def test_nothing_of_the_person_stands_in_a_draft() -> None:
    """A draft becomes a settings file that is sent around."""
    for name in RENAMED:
        draft = a_draft((SAMPLES / name).read_bytes(), NOW)
        for secret in (
            "9990000018",
            "9990000026",
            "Example",
            "Alex",
            "Vale",
            "Noël",
            "1961",
            "1958",
            "ORD-0042",
            "LM-01",
        ):
            assert secret not in draft.text, secret
