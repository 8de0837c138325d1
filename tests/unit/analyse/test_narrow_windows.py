"""Fixed windows that are narrower than the day: a mean is only as good as the readings behind it.

8 awake and 4 asleep: Yang 2019 (IDACO), the least for research; 20 and 7: Hypertension Canada 2017.
"""

from datetime import datetime

import pytest

from gateway.analyse import summarise
from gateway.model import Diary, Examined, PeriodName, Recording, Schedule, StatisticName, Subject, Summary
from tests.builders import LONDON, a_recording, readings_over
from tests.unit.validate.ruling import count, examined, rules

Values = tuple[float | None, float | None, float | None]


def no_diary(silent_from: datetime) -> Recording:
    """Every half hour for a day; nothing was measured from then until 06:00, and the readings before are high."""
    until = datetime(2026, 3, 4, 6, tzinfo=LONDON)

    def profile(at: datetime) -> Values:
        if silent_from <= at < until:
            return None, None, None
        return (150, 95, 80) if at.hour < 6 else (125, 75, 70)

    readings = readings_over(every=lambda _: 30, profile=profile)
    return a_recording(readings, diary=Diary(), schedule=Schedule(interval_day=30, interval_night=30))


def by_esc(silent_from: datetime) -> tuple[Examined, Summary]:
    """ESC 2024 takes 00:00 to 06:00 as asleep where no diary is known."""
    recording = no_diary(silent_from)
    found = examined(recording)
    assert found.hold is None
    return found, summarise(recording, found, rules())


def test_a_mean_of_one_reading_is_neither_filed_nor_classed() -> None:
    found, summary = by_esc(datetime(2026, 3, 4, 0, 15, tzinfo=LONDON))
    assert count(found, PeriodName.ASLEEP).valid >= 7
    assert not count(found, PeriodName.ASLEEP).filed
    assert summary.interpretation(Subject.PRESSURE, PeriodName.ASLEEP) is None
    dip = summary.statistic(StatisticName.SYSTOLIC_DIP, None)
    assert dip is not None and dip.value is None
    assert summary.interpretation(Subject.SYSTOLIC_DIP, None) is None
    assert any(
        line.startswith("Asleep average") and "not held against a limit" in line for line in summary.conclusion
    )
    assert "Dip not classed: this needs 20 awake and 7 asleep valid readings." in summary.conclusion


@pytest.mark.parametrize(("hour", "minute", "filed", "classed"), [(1, 15, False, False), (1, 45, True, False)])
def test_four_readings_file_a_night_that_is_not_classed(hour: int, minute: int, filed: bool, classed: bool) -> None:
    found, summary = by_esc(datetime(2026, 3, 4, hour, minute, tzinfo=LONDON))
    assert count(found, PeriodName.ASLEEP).filed is filed
    assert (summary.interpretation(Subject.PRESSURE, PeriodName.ASLEEP) is not None) is classed


@pytest.mark.parametrize(("hour", "classed"), [(3, False), (4, True)])
def test_seven_readings_class_a_night(hour: int, classed: bool) -> None:
    """Half-hourly from 00:00 on: six until 02:45 and eight until 03:45."""
    _, summary = by_esc(datetime(2026, 3, 4, hour, 0, tzinfo=LONDON))
    assert (summary.interpretation(Subject.PRESSURE, PeriodName.ASLEEP) is not None) is classed
    assert (summary.interpretation(Subject.SYSTOLIC_DIP, None) is not None) is classed
