"""Kinds of faults that exports are known for (common practice), from the bytes to what would be filed.

Each is a day of half-hourly readings with one thing wrong with it; what must come of it is said beside it.
"""

import json
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from openpyxl.styles import Font

from gateway.intake import Considered, Tools, consider
from gateway.mapping.site import SiteDefaults
from gateway.mapping.source import SourceMap
from gateway.model import HoldReason, Outcome, Reading
from gateway.model.filing import ReadingsChoice
from gateway.service.previewing import bundle_bytes, preview_tools
from tests.unit.read import books
from tests.unit.read.layouts import a_map

NOW = datetime(2026, 11, 20, 12, tzinfo=UTC)
BEGAN = datetime(2026, 3, 3, 9, 0)  # noqa: DTZ001  (a wall clock)
SYSTEM = "https://fhir.nhs.uk/Id/nhs-number"
PERSON = {"identifier": {"fact": "number"}, "birth_date": {"fact": "born", "pattern": "iso"}}
FACTS = "number;9990000018\nborn;1961-04-09\n\n"
HEADER = "taken;upper;lower;beats"
ISO_TIME = {"how": "instant", "column": "taken", "pattern": "iso"}
ROW = "{at:%Y-%m-%d %H:%M};{upper};{lower};70"


def mapped(**changes: Any) -> SourceMap:
    return a_map(**{"person": PERSON, **changes})


def at(count: int) -> datetime:
    return BEGAN + timedelta(minutes=30 * count)


def day(changes: dict[int, str] | None = None, facts: str = FACTS, shape: str = ROW, rows: int = 48) -> str:
    """A whole recording; `changes` puts other rows in the place of some."""
    lines = [shape.format(at=at(each), upper=120 + each % 9, lower=70 + each % 7) for each in range(rows)]
    for place, line in (changes or {}).items():
        lines[place] = line
    return facts + "\n".join((HEADER, *lines)) + "\n"


def tools(source: SourceMap, zone: str = "Europe/London") -> Tools:
    site = SiteDefaults(zone=zone, identifier_system=SYSTEM)
    made = preview_tools(None, {}, timezone=zone, guideline=None)
    return replace(made, sources=(source,), defaults=site)


def considered(content: str | bytes, source: SourceMap | None = None, zone: str = "Europe/London") -> Considered:
    raw = content.encode() if isinstance(content, str) else content
    return consider(raw, "export.csv", tools(source or mapped(), zone), NOW)


def readings(
    content: str | bytes, source: SourceMap | None = None, zone: str = "Europe/London"
) -> tuple[Reading, ...]:
    found = considered(content, source, zone)
    assert found.recording is not None, found.hold
    return found.recording.readings


def reason(content: str | bytes, source: SourceMap | None = None) -> HoldReason:
    found = considered(content, source)
    assert found.hold is not None
    return found.hold.reason


def pressures(content: str | bytes, source: SourceMap | None = None) -> list[tuple[int | None, int | None]]:
    return [(each.systolic, each.diastolic) for each in readings(content, source)]


PLAIN = [(10 * (120 + each % 9), 10 * (70 + each % 7)) for each in range(48)]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_mark_of_byte_order_changes_nothing(encoding: str) -> None:
    assert pressures(day().encode(encoding)) == PLAIN
    assert considered(day().encode(encoding)).hold is None


@pytest.mark.parametrize("mark", [b"\xfe\xff"])
def test_big_endian_text_with_a_mark_is_read(mark: bytes) -> None:
    assert pressures(mark + day().encode("utf-16-be")) == PLAIN


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_sixteen_bits_without_a_mark_are_named_and_never_read(encoding: str) -> None:
    assert reason(day().encode(encoding)) is HoldReason.FILE_ENCODING


def test_decimal_commas_keep_their_size() -> None:
    source = mapped(form={"decimal": ","})
    shape = "{at:%Y-%m-%d %H:%M};{upper},0;{lower},0;70"
    assert pressures(day(shape=shape), source) == PLAIN
    thousand = day({3: "2026-03-03 10:30;1.310,0;82,0;70"}, shape=shape)
    assert readings(thousand, source)[3].outcome is Outcome.FAILED


def test_kilopascals_are_converted_where_they_are_declared_and_held_where_not() -> None:
    shape = "{at:%Y-%m-%d %H:%M};17,3;10,7;70"
    kpa = mapped(form={"decimal": ","}, readings={"unit": "kPa"})
    assert set(pressures(day(shape=shape), kpa)) == {(1300, 800)}  # 17.3 and 10.7 times 7.50062 (NIST SP 811, B.8)
    assert reason(day(shape=shape), mapped(form={"decimal": ","})) is HoldReason.UNITS_DOUBTFUL
    assert reason(day(shape="{at:%Y-%m-%d %H:%M};17;10;70")) is HoldReason.UNITS_DOUBTFUL
    assert reason(day(), mapped(readings={"unit": "kPa"})) is HoldReason.UNITS_DOUBTFUL


def test_twenty_four_hundred_is_midnight_and_what_lies_beyond_costs_its_row() -> None:
    found = readings(day({30: "2026-03-03 24:00;118;70;60"}))
    assert found[30].at.replace(tzinfo=None) == datetime(2026, 3, 4)  # noqa: DTZ001
    found = readings(day({30: "2026-03-03 24:20;118;70;60"}))
    assert len(found) == 47


def test_noon_and_midnight_by_half_days() -> None:
    time = {"how": "instant", "column": "taken", "pattern": "YYYY-MM-DD h:mm ap"}
    source = mapped(readings={"time": time})
    content = day(shape="{at:%Y-%m-%d %I:%M %p};{upper};{lower};70")
    assert [each.at.replace(tzinfo=None) for each in readings(content, source)] == [at(each) for each in range(48)]
    assert reason(content) is HoldReason.TIME_UNREADABLE  # a pattern of 24 hours does not overlook AM and PM


@pytest.mark.parametrize("shape", ["{at:%m/%d/%Y %H:%M};{upper};{lower};70"])
def test_the_order_of_day_and_month_is_proven_or_the_file_is_held(shape: str) -> None:
    time = {"how": "instant", "column": "taken", "pattern": "DD/MM/YYYY hh:mm"}
    assert considered(day(shape=shape), mapped(readings={"time": time})).hold is not None


def test_the_hour_that_comes_twice_gives_six_instants() -> None:
    clocks = ("01:40", "02:10", "02:40", "02:10", "02:40", "03:10")  # clocks went back on 2026-10-25 (IANA, Berlin)
    rows = [f"2026-10-25 {clock};12{n};80;70" for n, clock in enumerate(clocks)]
    found = readings(FACTS + "\n".join((HEADER, *rows)) + "\n", zone="Europe/Berlin")
    began = datetime(2026, 10, 24, 23, 40, tzinfo=UTC)
    assert [each.at.astimezone(UTC) for each in found] == [began + timedelta(minutes=30 * n) for n in range(6)]


def test_clock_times_alone_cross_midnight_once() -> None:
    starts = {"fact": "begun", "pattern": "iso"}
    clock = {"column": "taken", "pattern": "hh:mm"}
    source = mapped(readings={"time": {"how": "time-only", "time": clock, "starts_on": starts}})
    content = day(shape="{at:%H:%M};{upper};{lower};70", facts="begun;2026-03-03\n" + FACTS, rows=49)
    found = [each.at.replace(tzinfo=None) for each in readings(content, source)]
    assert found == [at(each) for each in range(49)]  # the last is the first clock time again, a day later


@pytest.mark.parametrize("marks", ["0;0;0", "255;255;255", "999;999;999", "---;---;---", ";;", "-999;-999;-999"])
def test_marks_for_no_value_are_failed_attempts_and_in_no_mean(marks: str) -> None:
    odd = considered(day({20: f"{at(20):%Y-%m-%d %H:%M};{marks}"}))
    assert odd.recording is not None
    assert odd.recording.readings[20].outcome is Outcome.FAILED
    assert len(odd.recording.readings) == 48
    gone = considered(day({20: f"{at(20):%Y-%m-%d %H:%M};;;"}))
    assert odd.summary is not None
    assert gone.summary is not None
    assert [each.value for each in odd.summary.statistics] == [each.value for each in gone.summary.statistics]


def test_one_blank_stays_missing_and_whole_numbers_stay_whole() -> None:
    content = day({20: f"{at(20):%Y-%m-%d %H:%M};130;;71"})
    found = considered(content)
    assert found.hold is None
    made = tools(mapped())
    every = tuple(replace(each, filing=replace(each.filing, readings=ReadingsChoice.ALL)) for each in made.routes)
    raw = bundle_bytes(found, replace(made, routes=every), NOW)

    def refused(word: str) -> None:
        raise AssertionError(word)

    entries = json.loads(raw, parse_constant=refused)["entry"]
    single = [each["resource"] for each in entries if "effectiveDateTime" in each["resource"]]
    parts = [part for each in single for part in each.get("component", ())]
    values = [part["valueQuantity"]["value"] for part in parts if "valueQuantity" in part]
    assert values.count(130) == 1
    assert all(isinstance(value, int) for value in values)
    assert sum("dataAbsentReason" in part for part in parts) == 1


@pytest.mark.parametrize("written", ["0012345678", '"0012345678"'])
def test_zeros_in_front_of_a_number_stay(written: str) -> None:
    found = considered(day(facts=f"number;{written}\nborn;1961-04-09\n\n"))
    assert found.recording is not None
    assert found.recording.person.identifier is not None
    assert found.recording.person.identifier.value == "0012345678"


@pytest.mark.parametrize("nothing", ["", "   ", "0000000000", "N/A", "----------"])
def test_a_blank_number_is_no_number(nothing: str) -> None:
    assert reason(day(facts=f"number;{nothing}\nborn;1961-04-09\n\n")) is HoldReason.IDENTIFIER_MISSING


@pytest.mark.parametrize(
    "harm",
    [
        '<!DOCTYPE a [<!ENTITY b "bbbb"><!ENTITY c "&b;&b;&b;&b;">]><a>&c;</a>',
        '<!DOCTYPE a SYSTEM "file:///etc/hostname"><a/>',
    ],
)
def test_entities_and_document_types_are_hostile(harm: str) -> None:
    source = a_map(
        format={"kind": "xml", "rows": "row"},
        signs={"columns": ["@taken"]},
        person={"identifier": {"fact": "number"}},
        readings={
            "time": {"how": "instant", "column": "@taken", "pattern": "iso"},
            "systolic": {"column": "@upper"},
            "diastolic": {"column": "@lower"},
            "heart_rate": {"column": "@beats"},
        },
    )
    assert reason(harm, source) is HoldReason.FILE_HOSTILE


def test_the_day_that_all_of_them_are_changed_from_goes_on() -> None:
    found = considered(day())
    assert found.hold is None
    assert found.recording is not None
    assert found.recording.began == BEGAN.replace(tzinfo=ZoneInfo("Europe/London"))


@pytest.mark.parametrize("cell", ["A5000", "A1048576"])
def test_styled_blank_rows_of_a_sheet_are_no_attempts_and_cost_no_time(cell: str) -> None:
    """https://github.com/pandas-dev/pandas/pull/39547: one bold cell far below makes a sheet look long."""

    def styled(book: Any) -> None:
        book.active[cell].font = Font(bold=True)

    rows = [(at(each), 120 + each % 9, 70 + each % 7, 70) for each in range(64)]
    content = books.xlsx([("number", "9990000018"), ("born", "1961-04-09"), (), HEADER.split(";"), *rows], styled)
    source = mapped(format={"kind": "workbook"}, readings={"time": ISO_TIME})
    began = time.process_time()
    found = consider(content, "export.xlsx", tools(source), NOW)
    assert time.process_time() - began < 2  # seconds of the processor
    assert found.recording is not None, found.hold
    assert len(found.recording.readings) == 64
    assert {each.outcome for each in found.recording.readings} == {Outcome.MEASURED}
