"""Two days of one recording: a sentence that compares names its day, so that none contradicts another."""

from dataclasses import replace
from datetime import datetime

import pytest

from gateway.analyse import summarise
from gateway.model import Circumstances, Diary, Interval, PeriodName, Subject, Summary, Tenths
from tests.builders import LONDON, START, a_recording, readings_over
from tests.unit.analyse.examined import examined_of, rules_with

Values = tuple[float | None, float | None, float | None]
NIGHTS = tuple(
    Interval(datetime(2026, 3, day, 23, tzinfo=LONDON), datetime(2026, 3, day + 1, 7, tzinfo=LONDON))
    for day in (3, 4)
)
CLINIC = Circumstances(clinic_systolic=Tenths(1500), clinic_diastolic=Tenths(950), treated=False)
COMPARING = (Subject.SYSTOLIC_DIP, Subject.DIASTOLIC_DIP, Subject.PATTERN, Subject.CLINIC_PATTERN)


def unlike(at: datetime) -> Values:
    """Awake 140/90 with a low night on the first day, awake 120/75 with a high night on the second."""
    night = at.hour >= 23 or at.hour < 7
    if at.timestamp() < START.timestamp() + 24 * 3600:
        return (112, 65, 60) if night else (140, 90, 70)
    return (125, 75, 60) if night else (120, 75, 70)


def summed(days: int) -> Summary:
    recording = a_recording(
        readings_over(hours=24 * days, profile=unlike), diary=Diary(asleep=NIGHTS[:days]), circumstances=CLINIC
    )
    return summarise(recording, examined_of(recording, days=days), rules_with())


@pytest.mark.parametrize("subject", COMPARING)
def test_each_comparing_sentence_of_two_days_names_its_day(subject: Subject) -> None:
    found = [one for one in summed(2).interpretations if one.subject is subject]
    assert [one.day for one in found] == [1, 2]
    assert [one.text.startswith(f"Day {one.day}: ") for one in found] == [True, True]


def test_the_narrative_of_two_days_names_them() -> None:
    told = [line for line in summed(2).conclusion if line.startswith("Day ")]
    assert [line[:18] for line in told] == [
        "Day 1: Systolic di",
        "Day 2: Systolic di",
        "Day 1: Awake 140.0",
        "Day 2: Awake 120.0",
        "Day 1: Clinic 150/",
        "Day 2: Clinic 150/",
    ]


def test_one_day_has_no_number() -> None:
    said = summed(1).interpretations
    assert {one.subject for one in said} >= set(COMPARING)
    assert not any("Day 1" in one.text for one in said)


def test_a_day_whose_dip_is_not_classed_is_named() -> None:
    recording = a_recording(readings_over(hours=48), diary=Diary(asleep=NIGHTS))
    examined = examined_of(recording, days=2)
    assert examined.windows is not None
    narrow = Interval(NIGHTS[1].start, datetime(2026, 3, 5, 3, tzinfo=LONDON))
    periods = tuple(
        replace(one, means=(narrow,)) if (one.name, one.day) == (PeriodName.ASLEEP, 2) else one
        for one in examined.windows.periods
    )
    windows = replace(examined.windows, periods=periods)
    found = summarise(recording, replace(examined, windows=windows), rules_with()).conclusion
    assert "Day 2: Dip not classed: this needs 20 awake and 7 asleep valid readings." in found
    assert not any(line.startswith("Day 1: Dip") for line in found)
