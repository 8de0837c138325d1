"""`export`: a table for a practice audit from a store that a real record server filled."""

import csv
import json
import stat
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from pyarrow.parquet import read_table
from scenario import layouts, people
from scenario.days import LONDON, Shape
from scenario.record import RecordServer

from tests.flow.day import Day, a_day

pytestmark = pytest.mark.service


def export(who: people.Someone, today: date, days_ago: int, seed: int) -> bytes:
    start = datetime.combine(today - timedelta(days=days_ago), time(9, 0), LONDON)
    shape = Shape(awake=(132, 80, 74), asleep=(112, 64, 60))
    return layouts.plain(who, shape, start, serial=f"T-{seed}", seed=seed)  # each recording has its own monitor


@pytest.fixture
def filled(record: RecordServer, tmp_path: Path, today: date) -> Day:
    """Two recordings of one person, one of another, one that is held."""
    day = a_day(tmp_path / "day", record.base)
    day.drop("a1.csv", export(people.ADA, today, 40, 1))
    day.drop("a2.csv", export(people.ADA, today, 2, 3))
    day.drop("held.csv", export(people.ADA, today, 9, 5).replace(b"9990000018", b"9990000019"))
    other = next(each for each in people.EVERYBODY if each.registered and each.number != people.ADA.number)
    day.drop("b.csv", export(other, today, 3, 4))
    day.command("once")
    return day


def lines(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def exported(day: Day) -> list[dict[str, object]]:
    out = day.place / "audit.jsonl"
    out.unlink(missing_ok=True)
    day.command("audit", "export", "--to", str(out))
    entries = [json.loads(line) for line in out.read_text().splitlines()]
    return [entry for entry in entries if entry["kind"] == "exported"]


def test_tables_of_a_filled_store(filled: Day, today: date) -> None:
    """One start of the record server for all three: it is slow."""
    one_row_per_recording_under_pseudonyms_and_audited(filled, today)
    since_counts_by_the_day_of_the_site(filled, today)
    identifiers_need_a_name_and_stand_in_the_audit_log(filled)
    parquet_holds_the_same_table(filled)


def one_row_per_recording_under_pseudonyms_and_audited(filled: Day, today: date) -> None:
    out = filled.place / "audit.csv"
    done = filled.command("export", "--since", "2000-01-01", "--to", str(out))
    assert (done.returncode, done.stdout) == (0, f"3 recordings written to {out}\n"), done.stderr
    rows = lines(out)
    assert [row["date"] for row in rows] == [str(today - timedelta(days=days)) for days in (40, 3, 2)]
    assert len({row["recording_pseudonym"] for row in rows}) == 3
    first, other, second = (row["person_pseudonym"] for row in rows)
    assert first == second != other
    assert {row["delivered"] for row in rows} == {"yes"}
    assert all(120 < float(row["systolic_mean_awake"]) < 145 for row in rows)
    text = out.read_text()
    for one in people.EVERYBODY:
        assert one.number not in text and one.family not in text
    assert stat.S_IMODE(out.stat().st_mode) == 0o600
    (entry,) = exported(filled)
    detail = entry["detail"]
    assert isinstance(detail, dict)
    assert (detail["count"], detail["identifiers"], detail["since"]) == (3, False, "2000-01-01")
    assert filled.command("audit", "verify").returncode == 0


def since_counts_by_the_day_of_the_site(filled: Day, today: date) -> None:
    out = filled.place / "since.csv"
    filled.command("export", "--since", str(today - timedelta(days=2)), "--to", str(out))
    assert [row["date"] for row in lines(out)] == [str(today - timedelta(days=3)), str(today - timedelta(days=2))]


def identifiers_need_a_name_and_stand_in_the_audit_log(filled: Day) -> None:
    out, before = filled.place / "named.csv", len(exported(filled))
    words = ["export", "--since", "2000-01-01", "--to", str(out), "--identifiers"]
    refused = filled.command(*words)
    assert refused.returncode == 2 and "--by" in refused.stderr and not out.exists()
    assert len(exported(filled)) == before
    assert filled.command(*words, "--by", "A. Auditor").returncode == 0
    assert {row["identifier"] for row in lines(out)} >= {people.ADA.number}
    entry = exported(filled)[-1]
    assert entry["actor"] == "A. Auditor"
    assert entry["detail"]["identifiers"] is True  # type: ignore[index]


def parquet_holds_the_same_table(filled: Day) -> None:
    out, text = filled.place / "audit.parquet", filled.place / "again.csv"
    done = filled.command("export", "--since", "2000-01-01", "--to", str(out))
    assert (done.returncode, done.stdout) == (0, f"3 recordings written to {out}\n"), done.stderr
    filled.command("export", "--since", "2000-01-01", "--to", str(text))
    found, rows = read_table(out).to_pylist(), lines(text)
    assert [str(one["date"]) for one in found] == [row["date"] for row in rows]
    for one, row in zip(found, rows, strict=True):
        assert one["systolic_mean_awake"] == Decimal(row["systolic_mean_awake"])
        assert one["person_pseudonym"] == row["person_pseudonym"]
    assert stat.S_IMODE(out.stat().st_mode) == 0o600


def test_nothing_is_overwritten_and_no_other_kind_of_file_is_written(tmp_path: Path) -> None:
    day = a_day(tmp_path / "day", "http://127.0.0.1:9/fhir")
    out = day.place / "audit.csv"
    assert day.command("export", "--since", "2000-01-01", "--to", str(out)).returncode == 0
    assert lines(out) == []
    out.write_text("mine")
    done = day.command("export", "--since", "2000-01-01", "--to", str(out))
    assert done.returncode == 2 and "nothing was overwritten" in done.stderr
    assert out.read_text() == "mine"
    assert day.command("export", "--since", "2000-01-01", "--to", "x.xlsx").returncode == 2
    assert day.command("export", "--to", str(out)).returncode == 2
    assert len(exported(day)) == 1
