"""The table for a practice audit: which columns, that numbers stay exact, and that no person stands in it unasked."""

import csv
import io
import json
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from typer.testing import CliRunner

from gateway import cohort
from gateway.analyse import summarise
from gateway.cli import app
from gateway.cohort.columns import COLUMNS, IDENTIFYING
from gateway.model import PeriodName, Recording, StatisticName
from gateway.model.plain import plain_json
from gateway.model.projection import facts_of
from tests.builders import a_person, a_reading, a_recording, readings_over
from tests.unit.validate.ruling import examined, rules

KEY = b"k" * 32


def facts(recording: Recording | None = None, guideline: str = "esc-2024") -> bytes:
    recording = recording or a_recording()
    found = examined(recording, guideline)
    summary = summarise(recording, found, rules(guideline)) if found.windows and found.adequacy else None
    return plain_json(facts_of(recording, found, summary, found.hold))


def row_of(recording: Recording | None = None, **more: str) -> dict[str, cohort.Cell]:
    row = cohort.row(facts(recording, **more), "p", "r", delivered=True)
    assert row is not None
    return row


def read(content: bytes) -> list[dict[str, str]]:
    """By a reader that is not ours, as text."""
    return list(csv.DictReader(io.StringIO(content.decode(), newline="")))


def test_every_statistic_has_its_columns_and_no_name_stands_twice() -> None:
    assert {column.of[0] for column in COLUMNS if column.of} == set(StatisticName)
    names = [column.name for column in (*IDENTIFYING, *COLUMNS)]
    assert len(names) == len(set(names))
    assert all(column.meaning for column in COLUMNS)


@pytest.mark.parametrize("guideline", ["esc-2024", "nice-ng136"])
def test_every_statistic_of_a_recording_stands_in_its_column_unchanged(guideline: str) -> None:
    told = json.loads(facts(guideline=guideline), parse_float=Decimal, parse_int=Decimal)
    (line,) = read(cohort.csv([row_of(guideline=guideline)]))
    columns = {column.of: column for column in COLUMNS if column.of}
    stated = told["summary"]["statistics"]
    assert len(stated) > 80
    for one in stated:
        column = columns[one["name"], one["period"]]
        assert line[column.name] == ("" if one["value"] is None else str(one["value"])), column.name
        assert column.unit == one["unit"]


def test_the_facts_of_a_plain_recording() -> None:
    """40 of 40 scheduled; 138/86 awake and 118/70 asleep with a ripple; all by hand from the builders."""
    row = row_of()
    expected = {
        "date": "2026-03-03",
        "age": 64,
        "delivered": "yes",
        "days": 1,
        "monitor_model": "Example Monitor",
        "source_map": "plain",
        "guideline": "esc-2024",
        "review": "no",
        "windows": "diary",
        "adequacy": "adequate",
        "scheduled_24h": 40,
        "valid_awake": 32,
        "valid_asleep": 8,
        "percent_24h": Decimal("100.0"),
        "pressure_class_awake": "at-or-above-limit",
        "systolic_dip_class": "dipper",
    }
    assert {name: row[name] for name in expected} == expected
    assert "identifier-test" in str(row["findings"]).split()


def test_persons_stand_under_pseudonyms_unless_asked_for() -> None:
    row = {**row_of(), "recording": "abc"}
    content = cohort.csv([row])
    for secret in (b"9990000018", b"Example,", b"Alex", b"1961", b"EX-0001", b"abc"):
        assert secret not in content
    (line,) = read(cohort.csv([row], identifiers=True))
    assert list(line)[: len(IDENTIFYING)] == [column.name for column in IDENTIFYING]
    assert (line["identifier"], line["birth_date"], line["recording"]) == ("9990000018", "1961-04-09", "abc")
    assert b"Alex" not in cohort.csv([row], identifiers=True), "names are never needed for an audit"


def test_pseudonyms_are_stable_and_hang_on_the_key() -> None:
    one = cohort.pseudonym(KEY, "person", "x")
    assert one == cohort.pseudonym(KEY, "person", "x")
    assert len({one, cohort.pseudonym(b"l" * 32, "person", "x"), cohort.pseudonym(KEY, "recording", "x"),
                cohort.pseudonym(KEY, "person", "y")}) == 4  # fmt: skip
    # HMAC-SHA-256 (RFC 2104) by another library
    from cryptography.hazmat.primitives.hashes import SHA256
    from cryptography.hazmat.primitives.hmac import HMAC

    mac = HMAC(KEY, SHA256())
    mac.update(b"table person x")
    assert one == mac.finalize().hex()[:32]


def test_a_result_that_is_not_there_gives_no_row() -> None:
    future = a_recording([replace(r, at=r.at.replace(year=2027)) for r in readings_over()])
    assert json.loads(facts(future))["summary"] is None
    assert cohort.row(facts(future), "p", "r", delivered=False) is None
    assert cohort.row(b'{"recording":null,"summary":null}', "p", "r", delivered=False) is None


@pytest.mark.parametrize(
    ("born", "age"),
    [
        (date(2008, 3, 3), 18),
        (date(2008, 3, 4), 17),
        (date(1936, 3, 3), 90),
        (date(1936, 3, 4), 89),
        (date(1910, 1, 1), 90),
        (None, None),
    ],
)
def test_age_on_the_day_with_the_oldest_in_one_class(born: date | None, age: int | None) -> None:
    told = json.loads(facts())
    told["recording"]["birth_date"] = born.isoformat() if born else None
    row = cohort.row(json.dumps(told).encode(), "p", "r", delivered=False)
    assert row is not None and row["age"] == age and row["delivered"] == "no"


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\tx", "\rx"])
def test_text_that_a_spreadsheet_would_run_is_shown_only(text: str) -> None:
    told = json.loads(facts())
    told["recording"]["monitor_model"] = told["recording"]["identifier"] = text
    row = cohort.row(json.dumps(told).encode(), "p", "r", delivered=True)
    assert row is not None
    (line,) = read(cohort.csv([row], identifiers=True))
    assert line["monitor_model"] == line["identifier"] == f"'{text}"


def test_leading_zeros_commas_and_exact_decimals_survive() -> None:
    person = a_person()
    assert person.identifier is not None
    recording = a_recording(person=replace(person, identifier=replace(person.identifier, value="0090000001")))
    told = json.loads(facts(recording))
    told["recording"]["monitor_model"] = 'Model "A", large'
    row = cohort.row(json.dumps(told).encode(), "p", "r", delivered=True)
    assert row is not None
    (line,) = read(cohort.csv([{**row, "aasi": Decimal("0.50")}], identifiers=True))
    assert (line["identifier"], line["monitor_model"], line["aasi"]) == ("0090000001", 'Model "A", large', "0.50")


def test_no_rows_give_a_header() -> None:
    assert read(cohort.csv([])) == []
    assert cohort.csv([]).startswith(b"person_pseudonym,recording_pseudonym,date,")
    assert cohort.csv([]).count(b"\r\n") == 1


def test_missing_is_empty_and_never_nan() -> None:
    pairs = [a_reading(r.at, heart_rate=None, row=r.row) for r in readings_over()]
    (line,) = read(cohort.csv([row_of(a_recording(pairs))]))
    assert line["heart_rate_mean_awake"] == ""
    assert not {"nan", "None", "NaN", "<NA>"} & set(line.values())


def test_two_days_are_one_row_about_the_first() -> None:
    recording = a_recording(readings_over(hours=48), diary=a_recording().diary)
    row = row_of(recording)
    assert row["days"] == 2
    told = json.loads(facts(recording))["summary"]["statistics"]
    first = next(
        one["value"] for one in told if (one["name"], one["period"], one["day"]) == ("systolic-mean", "awake", 1)
    )
    assert str(row[cohort.columns.column_name("systolic-mean", PeriodName.AWAKE)]) == str(first)


def test_every_column_is_explained_on_the_command_line() -> None:
    told = CliRunner().invoke(app, ["export", "--columns"])
    assert told.exit_code == 0
    for column in (*COLUMNS, *IDENTIFYING):
        unit = f" [{column.unit}]" if column.unit else ""
        assert f"  {column.name}: {column.meaning}{unit}\n" in told.stdout
