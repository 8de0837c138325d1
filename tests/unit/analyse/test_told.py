"""What the narrative says of two kinds of means, of days without a diary, and of what nobody knows."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from gateway.analyse import summarise
from gateway.analyse.comparing import compare
from gateway.analyse.numbers import Pair
from gateway.analyse.patterns import clinic_against_outside
from gateway.mapping.guideline import ClinicLimit, FixedWindow, FixedWindows, Standing
from gateway.model import Circumstances, Diary, Interval, PeriodName, Summary, Tenths
from gateway.model.plain import plain_json
from gateway.model.projection import facts_of
from tests.builders import LONDON, START, a_reading, a_recording, readings_over
from tests.unit.analyse.examined import SEEN, a_guideline, examined_of, rules_with
from tests.unit.validate.ruling import examined, rules

AWAKE = PeriodName.AWAKE


def dense_while_high(low: float, high: float) -> Summary:
    """Ten readings in each of the first 12 hours at `high`, one in each later hour at `low`."""
    hours = [*(n // 10 for n in range(120)), *range(12, 24)]
    readings = [
        a_reading(START + timedelta(hours=hour, minutes=5 * (n % 10)), high if hour < 12 else low, 60, row=n)
        for n, hour in enumerate(hours)
    ]
    recording = a_recording(readings)
    return summarise(recording, examined_of(recording, adequacy={"dip_ready": False}), rules_with())


@pytest.mark.parametrize(
    ("low", "high", "limits"),
    [
        # arithmetic (120·high + 12·low)/132, hourly (high + low)/2; ESC 2024 for 24 h: 115/65 and 130/80
        (105, 120, ["115/65"]),  # 118.6 and 112.5: the lower limit lies between them
        (120, 135, ["130/80"]),  # 133.6 and 127.5
        (90, 136, ["115/65", "130/80"]),  # 131.8 and 113.0: both do
        (120, 125, []),
    ],
)
def test_means_on_different_sides_of_any_limit_are_said(low: float, high: float, limits: list[str]) -> None:
    said = [line for line in dense_while_high(low, high).conclusion if "lie on different sides of the limit" in line]
    assert [line.split("of the limit ")[1].split(" of ESC")[0] for line in said] == limits


def clinic(treated: bool | None, systolic: int, outside: str, **changes: object) -> str:
    means = {AWAKE: Pair(Decimal(outside), Decimal("80.0"))}
    facts = Circumstances(clinic_systolic=Tenths(systolic), clinic_diastolic=Tenths(800), treated=treated)
    guideline = a_guideline(deciding_periods=(AWAKE,), **changes)
    (said,) = clinic_against_outside(means, facts, guideline, 1)
    return said.text.partition("seen with ")[2]


@pytest.mark.parametrize(
    ("systolic", "outside", "words"),
    [
        (1300, "130.0", ["pressure below the limits in and outside the clinic"] * 3),
        (
            1500,
            "130.0",
            [
                "a white-coat pattern",
                "a white-coat effect under treatment",
                "a white-coat pattern, or under treatment a white-coat effect (treatment not known)",
            ],
        ),
        (
            1300,
            "140.0",
            ["a masked pattern", "a masked pattern under treatment", "a masked pattern (treatment not known)"],
        ),
        (
            1500,
            "140.0",
            [
                "sustained raised pressure",
                "sustained raised pressure under treatment",
                "sustained raised pressure (treatment not known)",
            ],
        ),
    ],
)
def test_treatment_that_nobody_knows_is_never_worded_as_none(
    systolic: int, outside: str, words: Sequence[str]
) -> None:
    told = [clinic(treated, systolic, outside) for treated in (False, True, None)]
    assert told == [f"{word}, to be confirmed." for word in words]


def test_a_clinic_limit_from_memory_is_said_beside_the_pattern_until_somebody_approved_it() -> None:
    limit = ClinicLimit(
        systolic=Decimal(140), diastolic=Decimal(90), citation="from memory", standing=Standing.MEMORY
    )
    assert clinic(False, 1500, "130.0", clinic=limit).endswith("The clinic limit was not verified at its source.")
    approved = {"approved_by": "Dr A. Example", "approved_on": START.date(), "approved_source": "the guideline"}
    assert clinic(False, 1500, "130.0", clinic=limit, **approved).endswith("to be confirmed.")
    assert a_guideline(clinic=limit).unverified == ("clinic limit",)
    assert a_guideline(clinic=limit).needs_approval
    assert a_guideline(clinic=None).unverified == ()


FIRST_NIGHT = Interval(datetime(2026, 3, 3, 23, tzinfo=LONDON), datetime(2026, 3, 4, 7, tzinfo=LONDON))
SITE = FixedWindows(
    awake=FixedWindow(start=datetime.min.time().replace(hour=8), end=datetime.min.time().replace(hour=22)),
    asleep=FixedWindow(start=datetime.min.time(), end=datetime.min.time().replace(hour=6)),
    **SEEN,
)


@pytest.mark.parametrize(
    ("windows", "second"),
    [(None, "Day 2 by the fixed times of ESC 2024."), (SITE, "Day 2 by the fixed times of this site.")],
)
def test_a_day_without_a_diary_is_told_apart(windows: FixedWindows | None, second: str) -> None:
    recording = a_recording(readings_over(hours=48), diary=Diary(asleep=(FIRST_NIGHT,)))
    chosen = rules("esc-2024", windows=windows)
    found = examined(recording, windows=windows)
    summary = summarise(recording, found, chosen)
    assert summary.rules.windows_text == f"Awake and asleep by the person's diary. {second}"
    told = {(one.day, str(one.origin)) for one in facts_of(recording, found, summary, None).summary.periods}  # type: ignore[union-attr]
    assert told == {(1, "diary"), (2, "site" if windows else "guideline")}


def test_a_first_day_by_the_clock_compares_less_well_with_one_by_diary() -> None:
    """Day 1 is compared; its sleep is not known although that of day 2 is."""
    start = START - timedelta(days=60)

    def told(asleep_on: int, hours: int, at: datetime) -> bytes:
        night = at.replace(hour=23) + timedelta(days=asleep_on)
        recording = a_recording(
            readings_over(at, hours=hours), diary=Diary(asleep=(Interval(night, night + timedelta(hours=8)),))
        )
        found = examined(recording, now=at + timedelta(days=4))
        assert found.hold is None
        return plain_json(facts_of(recording, found, summarise(recording, found, rules()), None))

    diary, clock = told(0, 24, start), told(1, 48, START)
    note = "Awake and asleep were found in another way then, so these averages compare less well."
    assert note in compare(clock, [diary], "hourly")
    assert note not in compare(told(0, 24, START), [diary], "hourly")


def test_windows_know_the_origin_of_each_day() -> None:
    windows = examined_of(a_recording()).windows
    assert windows is not None
    assert [str(replace(windows, by_clock=(2,)).origin_of(day)) for day in (1, 2)] == ["diary", "guideline"]
