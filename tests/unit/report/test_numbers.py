"""Every number on the page is one of the summary, the recording or a named limit, and every one is there."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from gateway.model import PeriodName, StatisticName
from gateway.report import render
from gateway.report.scene import limit_of
from gateway.report.tables import FURTHER_ROWS, FURTHER_WHOLE_ROWS, LOADS, PERIOD_ROWS, WHOLE_ROWS
from gateway.report.words import words_of
from tests.builders import a_recording, readings_over
from tests.unit.report.cases import BY_NAME, CASES, SURGERY, Case, course
from tests.unit.report.pages import pdf_of, text_of
from tests.unit.report.summing import summary_of

DECIMAL = re.compile(r"(?<![\d.,])\d+[.,]\d+(?![\d.]|,\d)")
ONE_DAY = [case for case in CASES if case.name != "all-failed"]


def printed(case: Case, rows: tuple[tuple[str, tuple[StatisticName, ...], str], ...]) -> list[str]:
    """What must stand on the page, from the summary alone."""
    found = []
    summary = case.summary
    days = {period.day for period in summary.windows.periods}
    for _, names, _ in rows:
        for period in (*PeriodName, None):
            for day in days:
                if names == LOADS and limit_of(summary, period, day) is None:
                    continue  # without a limit on the page there is no load on it
                asked = [summary.statistic(name, period, day) for name in names]
                values = [one.value for one in asked if one is not None and one.value is not None]
                if len(values) == len(names):
                    found.append(words_of(case.letterhead.language).figure("/".join(str(value) for value in values)))
    return found


@pytest.mark.parametrize("case", ONE_DAY, ids=lambda case: case.name)
def test_every_statistic_of_the_first_rows_is_on_the_page(case: Case) -> None:
    text = text_of(pdf_of(case.name))
    wanted = printed(case, PERIOD_ROWS) + printed(case, WHOLE_ROWS)
    assert len(wanted) > 10
    assert [one for one in wanted if one not in text] == []


def test_the_second_part_has_every_other_statistic() -> None:
    case = BY_NAME["letter-kpa-every-reading"]
    text = text_of(pdf_of(case.name))
    wanted = printed(case, FURTHER_ROWS) + printed(case, FURTHER_WHOLE_ROWS)
    assert len(wanted) > 20
    assert [one for one in wanted if one not in text] == []


def test_every_name_of_a_statistic_has_one_place() -> None:
    placed = [
        name
        for rows in (PERIOD_ROWS, WHOLE_ROWS, FURTHER_ROWS, FURTHER_WHOLE_ROWS)
        for _, names, _ in rows
        for name in names
    ]
    assert sorted(placed) == sorted(StatisticName)


@pytest.mark.parametrize("case", [case for case in CASES if not case.letterhead.kpa], ids=lambda case: case.name)
def test_no_decimal_on_the_page_comes_from_elsewhere(case: Case) -> None:
    summary = case.summary
    figure = words_of(case.letterhead.language).figure
    known = {figure(str(one.value)) for one in summary.statistics if one.value is not None}
    known |= {figure(str(count.percent)) for count in summary.adequacy.counts if count.percent is not None}
    told = " ".join((*summary.conclusion, *summary.adequacy.reasons, case.letterhead.software))
    known |= set(DECIMAL.findall(told))
    assert set(DECIMAL.findall(text_of(pdf_of(case.name)))) <= known


def test_counts_stand_in_their_rows() -> None:
    case = BY_NAME["adequate"]
    text = text_of(pdf_of(case.name))
    counts = [case.summary.adequacy.count(name) for name in (PeriodName.AWAKE, PeriodName.ASLEEP, PeriodName.WHOLE)]
    for label, field in (
        ("Due by programme", "scheduled"),
        ("Tried", "attempted"),
        ("Valid", "valid"),
        ("Excluded", "excluded"),
        ("Failed", "failed"),
    ):
        assert f"{label} {' '.join(str(getattr(count, field)) for count in counts)}" in text


def test_the_limits_are_those_of_the_named_guideline() -> None:
    """ESC 2024: 135/85 awake, 120/70 asleep, 130/80 over 24 h (doi 10.1093/eurheartj/ehae178)."""
    text = text_of(pdf_of("adequate"))
    for limit in ("135/85", "120/70", "130/80"):
        assert f"at or above {limit}" in text


def test_a_changed_value_changes_the_page() -> None:
    """The page reads the summary and does not compute for itself."""
    case = BY_NAME["adequate"]
    odd = Decimal("177.7")
    name = StatisticName.SYSTOLIC_MEAN
    swapped = tuple(
        replace(one, value=odd) if one.name is name and one.period is PeriodName.AWAKE else one
        for one in case.summary.statistics
    )
    text = text_of(render(case.recording, replace(case.summary, statistics=swapped), case.letterhead))
    assert text.count("177.7/") == 2  # the card and the table


def test_kilopascal_stands_beside() -> None:
    """Worked by hand: 138.2 mmHg * 0.133322 = 18.425, 86.1 * 0.133322 = 11.479 kPa."""
    text = text_of(pdf_of("letter-kpa-every-reading"))
    assert "138.2/86.1" in text
    assert "18.4/11.5 kPa" in text


def test_every_reading_is_listed_with_what_became_of_it() -> None:
    case = BY_NAME["letter-kpa-every-reading"]
    text = text_of(pdf_of(case.name))
    for one in case.recording.readings:
        if one.systolic and one.diastolic:
            assert f"{one.at:%Y-%m-%d %H:%M %z} {one.systolic // 10} {one.diastolic // 10}" in text
        else:
            assert f"{one.at:%Y-%m-%d %H:%M %z}" in text
    assert text.count(" failed ") >= 3
    assert "268" in text


def test_no_clinic_value_is_made_up() -> None:
    assert "pressure not given" in text_of(pdf_of("clock-change"))
    assert "152/94 mmHg" in text_of(pdf_of("adequate"))


def test_without_a_limit_no_load_is_printed() -> None:
    assert "Load, at or above limit" in text_of(pdf_of("adequate"))
    for name in ("inadequate", "child"):
        assert "no limit applied" in text_of(pdf_of(name))
        assert "Load" not in text_of(pdf_of(name))
    assert BY_NAME["inadequate"].summary.statistic(StatisticName.SYSTOLIC_LOAD, PeriodName.AWAKE) is not None


def test_a_pressure_that_rises_during_sleep_is_printed_with_its_minus() -> None:
    """Worked by hand: 100 * (118 - 130) / 118 is about -10 %; every sign of it must be in the fonts."""
    recording = a_recording(readings_over(profile=course((118, 70, 74), (130, 80, 76))))
    summary = summary_of(recording)
    fall = [summary.statistic(name, None) for name in (StatisticName.SYSTOLIC_DIP, StatisticName.DIASTOLIC_DIP)]
    values = [one.value for one in fall if one is not None]
    assert -12 < values[0] < -8
    assert f"{values[0]}/{values[1]}" in text_of(render(recording, summary, SURGERY))
