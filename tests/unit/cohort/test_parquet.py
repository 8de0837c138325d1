"""The table as Parquet: the values of the CSV, exact and typed; and what is said where its library is not there."""

import io
import subprocess
import sys
from datetime import date
from decimal import Decimal
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pytest
from pyarrow import parquet as reading

from gateway import cohort
from gateway.cohort.columns import COLUMNS, IDENTIFYING
from tests.builders import a_person, a_recording, readings_over
from tests.unit.cohort.test_table import read, row_of

ROWS = [
    row_of(),
    row_of(a_recording(readings_over(hours=9))),
    row_of(a_recording(person=a_person(birth_date=None)), guideline="nice-ng136"),
]


def table(identifiers: bool = False) -> pa.Table:
    return reading.read_table(io.BytesIO(cohort.parquet(ROWS, identifiers)))


def same(typed: object, text: str) -> bool:
    """A value of the one file against the text of the other."""
    if typed is None:
        return text == ""
    if isinstance(typed, Decimal):
        return typed == Decimal(text)
    return str(typed) == text


@pytest.mark.parametrize("identifiers", [False, True])
def test_every_cell_is_that_of_the_csv(identifiers: bool) -> None:
    lines = read(cohort.csv(ROWS, identifiers))
    found = table(identifiers)
    assert found.column_names == list(lines[0])
    for number, line in enumerate(found.to_pylist()):
        wrong = {name: value for name, value in line.items() if not same(value, lines[number][name])}
        assert not wrong


def test_types_and_meanings() -> None:
    schema = table(identifiers=True).schema
    kinds = {
        "identifier": pa.string(),
        "birth_date": pa.date32(),
        "date": pa.date32(),
        "age": pa.int64(),
        "days": pa.int64(),
        "scheduled_24h": pa.int64(),
        "valid_awake": pa.int64(),
        "percent_24h": pa.decimal128(18, 6),
        "systolic_mean_awake": pa.decimal128(18, 6),
        "systolic_rhythm_p": pa.decimal128(18, 6),
        "guideline": pa.string(),
        "findings": pa.string(),
    }
    assert {name: schema.field(name).type for name in kinds} == kinds
    for column in (*IDENTIFYING, *COLUMNS):
        told = schema.field(column.name).metadata
        assert (told[b"meaning"].decode(), told[b"unit"].decode()) == (column.meaning, column.unit)


def test_another_tool_reads_it() -> None:
    frame = pd.read_parquet(io.BytesIO(cohort.parquet(ROWS)))
    assert frame["date"].tolist() == [date(2026, 3, 3)] * 3
    assert frame["systolic_mean_awake"].iloc[0] == ROWS[0]["systolic_mean_awake"]
    assert pd.isna(frame["age"].iloc[2])


def test_a_table_without_rows_keeps_its_columns() -> None:
    empty = reading.read_table(io.BytesIO(cohort.parquet([])))
    assert (empty.num_rows, empty.schema) == (0, table().schema)


def test_without_its_library_the_command_says_what_to_install(tmp_path: Path) -> None:
    """A process in which pyarrow cannot be imported, as where only deploy/requirements.txt was installed."""
    without = "import sys; sys.modules['pyarrow'] = None; from gateway.cli import main; main()"
    words = ["export", "--since", "2026-01-01", "--to", str(tmp_path / "audit.parquet")]
    done = subprocess.run([sys.executable, "-c", without, *words], capture_output=True, text=True, check=False)
    said = " ".join(done.stderr.replace("│", " ").split())
    assert done.returncode == 2
    assert "needs the package pyarrow" in said and "requirements-parquet.txt" in said
    assert list(tmp_path.iterdir()) == []


def test_csv_needs_no_library_of_parquet() -> None:
    without = (
        "import sys; sys.modules['pyarrow'] = None; from gateway import cohort; "
        "assert not cohort.parquet_available(); print(len(cohort.csv([])))"
    )
    done = subprocess.run([sys.executable, "-c", without], capture_output=True, text=True, check=True)
    assert int(done.stdout) == len(cohort.csv([])) and cohort.parquet_available()
