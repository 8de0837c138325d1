"""Workbooks: what spreadsheets do to numbers, dates and sizes, and what is refused before it is opened."""

import io
import re
import time as clock
import tracemalloc
import zipfile
from datetime import date, datetime, time, timedelta

import pytest
from openpyxl.styles import Font
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from gateway.model import HoldReason
from tests.unit.read.books import BOOK, HEAD, again, ods, with_part, xlsx
from tests.unit.read.layouts import a_map, held, lines, reason, recorded

AT = datetime(2026, 3, 3, 9, 20)  # noqa: DTZ001
ROWS = [*HEAD, (AT, 131, 82.5, 71), (AT + timedelta(minutes=20), 128, 79, None)]
READ = [
    "2026-03-03T09:20:00+00:00 measured 131.0/82.5 mean - pulse 71.0 scheduled",
    "2026-03-03T09:40:00+00:00 measured 128.0/79.0 mean - pulse - scheduled",
]
SHEET = "xl/worksheets/sheet1.xml"


@pytest.mark.parametrize("write", [xlsx, ods])
def test_true_dates_and_numbers_are_read_exactly(write) -> None:
    assert lines(write(ROWS), BOOK) == READ


def test_the_epoch_of_1904_is_the_books_own() -> None:
    def later(book) -> None:
        book.epoch = CALENDAR_MAC_1904

    content = xlsx(ROWS, later)
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert b'date1904="1"' in archive.read("xl/workbook.xml")
    assert lines(content, BOOK) == READ


@pytest.mark.parametrize("size", [b"A1", b"A1:B2", b"A1:XFD1048576"])
def test_a_wrong_stated_size_changes_nothing(size) -> None:
    content = with_part(
        xlsx(ROWS), SHEET, lambda part: re.sub(rb'<dimension ref="[^"]+"', b'<dimension ref="%s"' % size, part)
    )
    assert lines(content, BOOK) == READ


@pytest.mark.parametrize("column", [201, 202, 500])
def test_a_value_beyond_the_width_that_is_read_holds_the_file(column: int) -> None:
    content = xlsx(ROWS, lambda book: book.active.cell(row=len(ROWS), column=column, value=140))
    assert reason(content, BOOK) is HoldReason.FILE_UNREADABLE


def test_many_rows_of_the_full_width_are_too_large() -> None:
    def wide(book) -> None:
        for row in range(1, 400):
            book.active.cell(row=row, column=16_384).font = Font(bold=True)

    began = clock.perf_counter()
    assert reason(xlsx(ROWS, wide), BOOK) is HoldReason.FILE_TOO_LARGE
    assert clock.perf_counter() - began < 5


@pytest.mark.parametrize("cell", ["A5000", "A1048576", "XFD9"])
def test_styled_blank_cells_are_no_rows_and_cost_no_memory(cell) -> None:
    def bold(book) -> None:
        book.active[cell].font = Font(bold=True)

    content = xlsx(ROWS, bold)
    began = clock.perf_counter()
    assert lines(content, BOOK) == READ
    took = clock.perf_counter() - began
    print(f"styled {cell}: {took:.2f} s")
    assert took < 5


def test_a_gap_within_the_table_is_stepped_over_and_rows_keep_their_numbers() -> None:
    found = recorded(xlsx([*ROWS[:4], (), (), ROWS[4]]), BOOK).readings
    assert [each.row for each in found] == [4, 7]


@pytest.mark.parametrize("write", [xlsx, ods])
def test_a_sheet_is_chosen_by_number_or_name_and_another_one_claims_nothing(write) -> None:
    name = "Sheet" if write is xlsx else "One"
    by_name = BOOK.model_copy(update={"format": BOOK.format.model_copy(update={"sheet": name.upper()})})
    second = BOOK.model_copy(update={"format": BOOK.format.model_copy(update={"sheet": 2})})
    assert lines(write(ROWS), by_name) == READ
    assert reason(write(ROWS), second) is HoldReason.NO_MAP


@pytest.mark.parametrize("write", [xlsx, ods])
def test_24_00_is_midnight_and_a_time_beyond_costs_its_row(write) -> None:
    source = a_map(
        format={"kind": "workbook"},
        readings={
            "time": {
                "how": "date-and-time",
                "date": {"column": "taken", "pattern": "iso"},
                "time": {"column": "at", "pattern": "iso"},
            }
        },
    )
    day = date(2026, 3, 3)
    head = [("number", "A0042"), ("taken", "at", "upper", "lower", "beats")]
    table = [
        (day, time(9, 20), 131, 82, 71),
        (day, timedelta(hours=24), 118, 70, 60),
        (day, timedelta(hours=26, minutes=10), 117, 70, 60),
    ]

    def spans(book) -> None:
        for row in book.active.iter_rows(min_row=3):
            row[1].number_format = "[h]:mm"

    content = again(xlsx([*head, *table]), spans) if write is xlsx else ods([*head, *table])
    found = recorded(content, source)
    assert [each.at.isoformat() for each in found.readings] == [
        "2026-03-03T09:20:00+00:00",
        "2026-03-04T00:00:00+00:00",
    ]
    assert found.source.remarks == ("row 5: no clock shows such a time; not used",)


@pytest.mark.parametrize("write", [xlsx, ods])
def test_a_number_that_lost_its_zeros_is_filled_up_only_to_a_stated_length(write) -> None:
    rows = [("number", 12345678), *ROWS[1:]]
    ten = BOOK.model_copy(
        update={
            "person": BOOK.person.model_copy(
                update={
                    "identifier": a_map(person={"identifier": {"fact": "number", "digits": 10}}).person.identifier
                }
            )
        }
    )
    assert held(write(rows), BOOK).detail.startswith("person.identifier, row 1")
    assert recorded(write(rows), ten).person.identifier.value == "0012345678"
    assert recorded(write([("number", "0012345678"), *ROWS[1:]]), BOOK).person.identifier.value == "0012345678"
    assert reason(write([("number", 12345678901), *ROWS[1:]]), ten) is HoldReason.VALUE_UNREADABLE


def test_a_workbook_with_macros_is_read_as_any_other() -> None:
    content = with_part(
        xlsx(ROWS),
        "[Content_Types].xml",
        lambda part: part.replace(b"sheet.main+xml", b"x").replace(
            b"application/vnd.openxmlformats-officedocument.spreadsheetml.x",
            b"application/vnd.ms-excel.sheet.macroEnabled.main+xml",
        ),
    )
    assert b"macroEnabled" in zipfile.ZipFile(io.BytesIO(content)).read("[Content_Types].xml")
    assert lines(content, BOOK) == READ


def test_a_formula_counts_by_its_stored_result_and_holds_the_file_without_one() -> None:
    bare = xlsx([*ROWS[:4], (AT + timedelta(minutes=20), "=120+8", 79, None)])
    assert reason(bare, BOOK) is HoldReason.FILE_UNREADABLE
    stored = with_part(
        bare, SHEET, lambda part: re.sub(rb"(<f>120\+8</f>)(?:<v ?/>|<v></v>)", rb"\1<v>128</v>", part)
    )
    assert stored != bare
    assert lines(stored, BOOK) == READ


def test_swelling_archives_are_refused_before_they_are_unpacked() -> None:
    content = with_part(xlsx(ROWS), SHEET, lambda part: part + b" " * 15_000_000)
    large = with_part(xlsx(ROWS), SHEET, lambda part: part + b" " * 300_000_000)
    tracemalloc.start()
    assert reason(content, BOOK) is HoldReason.FILE_HOSTILE
    assert reason(large, BOOK) is HoldReason.FILE_HOSTILE
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(f"hostile workbook of {len(large)} bytes that unpacks to 300 MB: peak {peak / 1e6:.1f} MB")
    assert peak < 20e6


def test_an_archive_of_too_many_parts_is_refused() -> None:
    out = io.BytesIO(xlsx(ROWS))
    with zipfile.ZipFile(out, "a") as archive:
        for at in range(600):
            archive.writestr(f"xl/more{at}.xml", "<a/>")
    assert reason(out.getvalue(), BOOK) is HoldReason.FILE_HOSTILE


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_document_type_is_refused_in_any_part(encoding) -> None:
    bomb = '<?xml version="1.0"?><!DOCTYPE s [<!ENTITY a "aaaa">]><s>&a;</s>'.encode(encoding)
    assert reason(with_part(xlsx(ROWS), SHEET, lambda part: bomb), BOOK) is HoldReason.FILE_HOSTILE
    assert reason(with_part(ods(ROWS), "content.xml", lambda part: bomb), BOOK) is HoldReason.FILE_HOSTILE


def test_repeated_rows_and_cells_of_an_ods_cannot_fill_the_memory() -> None:
    cell = '<table:table-cell table:number-columns-repeated="16384"/>'
    blank = f'<table:table-row table:number-rows-repeated="1048576">{cell}</table:table-row>'
    full = blank.replace(
        'table:number-columns-repeated="16384"/>',
        'office:value-type="float" office:value="1" table:number-columns-repeated="16384"/>',
    )
    assert lines(ods(ROWS, blank), BOOK) == READ
    assert reason(ods(ROWS, full), BOOK) is HoldReason.FILE_UNREADABLE


def test_a_cut_off_workbook_is_damaged_and_not_unknown() -> None:
    content = xlsx(ROWS)
    assert reason(content[: len(content) // 2], BOOK) is HoldReason.FILE_UNREADABLE


def test_a_text_that_looks_like_a_formula_is_hostile() -> None:
    content = with_part(
        xlsx([("number", "A0042"), ("who", "x=1+1"), *ROWS[1:]]),
        SHEET,
        lambda part: part.replace(b"x=1+1", b"=cmd()"),
    )
    assert reason(content, BOOK) is HoldReason.FILE_HOSTILE
