"""The first hour after fitting, apart where the site wants it: out of every mean and count, and said."""

from dataclasses import replace
from datetime import timedelta

import pytest

from gateway.analyse import summarise
from gateway.mapping.rules import ReviewRule
from gateway.model import Examined, Kind, PeriodName, Recording, Schedule, Severity, StatisticName, Summary, Use
from tests.builders import START, a_reading, a_recording, readings_over
from tests.unit.validate.ruling import count, examined, rules

WHOLE, AWAKE = PeriodName.WHOLE, PeriodName.AWAKE
HOUR = timedelta(hours=1)


def high_at_first(hours: float = 24) -> Recording:
    """160/100 in the two readings of the first hour (09:00, 09:30), then 130/80 and 115/65."""
    return a_recording(
        readings_over(
            hours=hours,
            profile=lambda at: (
                (160, 100, 90)
                if at < START + HOUR
                else (115, 65, 55)
                if at.hour >= 23 or at.hour < 7
                else (130, 80, 70)
            ),
        )
    )


def both(recording: Recording, apart: bool, **changes: object) -> tuple[Examined, Summary]:
    chosen = rules("esc-2024", first_hour_apart=apart, **changes)
    found = examined(recording, first_hour_apart=apart, **changes)
    return found, summarise(recording, found, chosen)


@pytest.mark.parametrize(
    ("apart", "mean", "scheduled", "valid"),
    # awake 32 readings: (2 * 160 + 30 * 130) / 32 = 131.875; without the first hour 130
    [(False, "131.9", 40, 40), (True, "130.0", 38, 38)],
)
def test_means_and_counts(apart: bool, mean: str, scheduled: int, valid: int) -> None:
    found, summary = both(high_at_first(), apart)
    stated = summary.statistic(StatisticName.SYSTOLIC_MEAN, AWAKE)
    assert stated is not None
    assert str(stated.value) == mean
    whole = count(found, WHOLE)
    assert (whole.scheduled, whole.valid, whole.attempted, whole.percent) == (scheduled, valid, valid, 100)
    first = summary.statistic(StatisticName.FIRST_HOUR_SYSTOLIC_MEAN, None)
    assert first is not None
    assert (str(first.value), first.count) == ("160.0", 2), "stated either way"


def test_it_is_said_and_shown() -> None:
    found, summary = both(high_at_first(), apart=True)
    (said,) = (one for one in found.findings if one.rule == "first-hour")
    assert said.severity is Severity.CAUTION
    assert said.sentence == "The first hour after fitting is kept apart: 2 valid readings of it count in no average."
    assert said.sentence in summary.conclusion
    listed = [one for one in found.judged if one.rule == "first-hour"]
    assert [(one.use, one.why) for one in listed] == [
        (Use.LISTED, "in the first hour after fitting: kept apart, not counted")
    ] * 2
    assert not [one for one in both(high_at_first(), apart=False)[0].findings if one.rule == "first-hour"]


def test_the_hour_is_counted_from_the_fitting_and_ends_before_its_last_minute() -> None:
    """Fitted at 08:45: the reading at 09:30 is in the hour, one at 09:45 is not."""
    readings = [a_reading(START + timedelta(minutes=15 * n), row=n) for n in range(90)]
    recording = a_recording(readings, schedule=Schedule(interval_day=15, fitted_at=START - timedelta(minutes=15)))
    found, _ = both(recording, apart=True)
    assert [one.reading.row for one in found.judged if one.rule == "first-hour"] == [0, 1, 2]


def test_one_reading_in_the_hour() -> None:
    recording = high_at_first()
    found, _ = both(replace(recording, readings=recording.readings[1:]), apart=True)
    (said,) = (one.sentence for one in found.findings if one.rule == "first-hour")
    # 09:30 to 10:30 holds 09:30 and 10:00
    assert "2 valid readings" in said
    alone = (a_reading(START, row=1), *recording.readings[2:])
    (said,) = (
        one.sentence for one in both(replace(recording, readings=alone), True)[0].findings if one.rule == "first-hour"
    )
    assert said == "The first hour after fitting is kept apart: 1 valid reading of it counts in no average."


def test_a_failed_or_manual_attempt_of_the_hour_stays_what_it_was() -> None:
    recording = high_at_first()
    first, second, *rest = recording.readings
    odd = (replace(first, kind=Kind.MANUAL), a_reading(second.at, None, None, row=second.row), *rest)
    found, _ = both(replace(recording, readings=odd), apart=True)
    assert [one.rule for one in found.judged[:2]] == ["manual", "no-pressure"]
    assert count(found, WHOLE).failed == 0, "nothing was due in that hour, so nothing failed"


def test_no_gap_is_told_where_the_first_hour_was_read() -> None:
    """Readings at 09:00 and 09:30, then from 11:00 on: under two hours without one."""
    readings = [one for one in readings_over() if not START + HOUR <= one.at < START + timedelta(hours=2)]
    found, _ = both(a_recording(readings), apart=True)
    assert "gaps" not in {one.rule for one in found.findings}


def test_the_review_rule_still_sees_the_first_hour() -> None:
    found, _ = both(high_at_first(), apart=True, review=ReviewRule(name="site", systolic_at_or_above=160))  # type: ignore[arg-type]
    assert len(found.review.rows) == 2
