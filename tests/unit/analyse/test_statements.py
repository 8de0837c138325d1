"""Statements word for word, and what must hold before one is made."""

import re
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from gateway.analyse import summarise
from gateway.analyse.applicability import irregular, may_interpret
from gateway.analyse.columns import columns, inside, instant
from gateway.analyse.dip import dip
from gateway.analyse.interpret import interpret
from gateway.analyse.numbers import Numbers, Pair
from gateway.analyse.patterns import awake_against_asleep, clinic_against_outside, low_pressure
from gateway.analyse.rhythm import clock_of
from gateway.analyse.stating import unit_of
from gateway.model import (
    Circumstances,
    Diary,
    Interval,
    Judged,
    PeriodName,
    Review,
    StatisticName,
    Subject,
    Tenths,
    Unit,
    Use,
    Verdict,
)
from tests.builders import LONDON, START, a_person, a_reading, a_recording, readings_over
from tests.unit.analyse.examined import a_guideline, examined_of, rules_with

AWAKE, ASLEEP, WHOLE = PeriodName.AWAKE, PeriodName.ASLEEP, PeriodName.WHOLE
SENTENCE = "Values above your local review limit: 1 reading."


def means(awake: tuple[str, str], asleep: tuple[str, str]) -> dict[PeriodName, Pair]:
    return {name: Pair(Decimal(upper), Decimal(lower)) for name, (upper, lower) in ((AWAKE, awake), (ASLEEP, asleep))}


@pytest.mark.parametrize(
    ("adequacy", "changes"),
    [
        ({"verdict": Verdict.NOT_ADEQUATE, "reasons": ("Only 5 of 8 asleep readings are valid.",)}, {}),
        ({"verdict": Verdict.NOT_PROVEN}, {}),
        ({}, {"person": a_person(birth_date=None)}),
        ({}, {"person": a_person(birth_date=date(2020, 1, 1))}),
        ({}, {"circumstances": Circumstances(pregnancy_weeks=30)}),
        ({}, {"circumstances": Circumstances(irregular_pulse=True, treated=True)}),
    ],
)
@pytest.mark.parametrize("historical", [True, False])
def test_the_local_review_rule_is_told_before_everything(
    adequacy: dict[str, Any], changes: dict[str, Any], historical: bool
) -> None:
    """It is said first and once, whatever else holds, and the rest of the text is the same with and without it."""
    recording = a_recording(**changes)
    review = Review(rule="local", rows=(3,), sentence=SENTENCE)
    met, unmet = (
        summarise(
            recording,
            examined_of(recording, adequacy=adequacy, historical=historical, review=found),
            rules_with(),
        )
        for found in (review, Review())
    )
    assert met.conclusion == (SENTENCE, *unmet.conclusion)
    assert met.interpretations == unmet.interpretations


@pytest.mark.parametrize(
    ("verdict", "filed", "adequate", "dip_ready", "may"),
    [
        (Verdict.ADEQUATE, True, True, True, {AWAKE, ASLEEP, WHOLE}),
        (Verdict.NOT_PROVEN, True, True, True, {AWAKE, ASLEEP, WHOLE}),
        (Verdict.ADEQUATE, True, True, False, {AWAKE, WHOLE}),
        (Verdict.NOT_ADEQUATE, True, True, True, set()),
        (Verdict.ADEQUATE, False, True, True, set()),
        (Verdict.ADEQUATE, True, False, True, set()),
    ],
)
def test_which_means_may_be_held_against_a_limit(
    verdict: Verdict, filed: bool, adequate: bool, dip_ready: bool, may: set[PeriodName]
) -> None:
    found = examined_of(a_recording()).adequacy
    assert found is not None
    counts = tuple(replace(count, filed=filed, adequate=adequate, day=2) for count in found.counts)
    judged = replace(found, verdict=verdict, dip_ready=dip_ready, counts=counts)
    assert {name for name in PeriodName if may_interpret(judged, name, 2)} == may
    assert not any(may_interpret(judged, name, 1) for name in PeriodName)  # nothing was counted on that day


@pytest.mark.parametrize(
    ("awake", "asleep", "result", "text"),
    [
        (
            ("130.0", "84.9"),
            ("121.5", "65.0"),
            "asleep-only",
            "Awake 130.0/84.9 mmHg below 135/85 and asleep 121.5/65.0 mmHg at or above 120/70 of ESC 2024: "
            "seen with raised pressure during sleep only, to be confirmed.",
        ),
        (
            ("136.0", "80.1"),
            ("119.9", "69.9"),
            "awake-only",
            "Awake 136.0/80.1 mmHg at or above 135/85 and asleep 119.9/69.9 mmHg below 120/70 of ESC 2024: "
            "seen with raised pressure while awake only, to be confirmed.",
        ),
    ],
)
def test_awake_against_asleep_word_for_word(
    awake: tuple[str, str], asleep: tuple[str, str], result: str, text: str
) -> None:
    (said,) = awake_against_asleep(means(awake, asleep), a_guideline(), 2)
    assert (said.subject, said.period, said.day, said.result, said.flag) == (Subject.PATTERN, None, 2, result, None)
    assert said.text == text


def test_awake_against_asleep_needs_a_guideline_that_decides_on_both() -> None:
    found = means(("130.0", "80.0"), ("125.0", "75.0"))
    assert list(awake_against_asleep(found, a_guideline(deciding_periods=(AWAKE, ASLEEP)), 1))
    assert not list(awake_against_asleep(found, a_guideline(deciding_periods=(WHOLE, AWAKE)), 1))
    for alone in PeriodName:
        assert not list(awake_against_asleep({alone: found[ASLEEP]}, a_guideline(), 1))


def test_a_pair_and_its_components_word_for_word_at_the_very_limit() -> None:
    pair, upper, lower = interpret(AWAKE, 2, Pair(Decimal("135.0"), Decimal("84.9")), a_guideline(), "Awake average")
    assert [one.day for one in (pair, upper, lower)] == [2, 2, 2]
    assert [one.period for one in (pair, upper, lower)] == [AWAKE] * 3
    assert upper.text == "Awake average, systolic 135.0 mmHg: at or above the limit 135 of ESC 2024."
    assert lower.text == "Awake average, diastolic 84.9 mmHg: below the limit 85 of ESC 2024."


def test_components_of_a_period_that_does_not_decide_word_for_word() -> None:
    guideline = a_guideline(deciding_periods=(WHOLE,))
    found = {
        one.subject: one
        for one in interpret(ASLEEP, 1, Pair(Decimal("120.0"), Decimal("69.9")), guideline, "Asleep average")
    }
    rest = "which ESC 2024 gives for comparison and does not decide on."
    assert found[Subject.PRESSURE].text == f"Asleep average 120.0/69.9 mmHg: at or above 120/70, {rest}"
    assert found[Subject.SYSTOLIC].text == f"Asleep average, systolic 120.0 mmHg: at or above 120, {rest}"
    assert found[Subject.DIASTOLIC].text == f"Asleep average, diastolic 69.9 mmHg: below 70, {rest}"
    assert {one.flag for one in found.values()} == {None}


def test_the_clinic_needs_both_of_its_pressures_and_a_limit() -> None:
    outside = means(("130.0", "80.0"), ("110.0", "60.0"))
    guideline = a_guideline(deciding_periods=(AWAKE, ASLEEP))
    both = Circumstances(clinic_systolic=Tenths(1455), clinic_diastolic=Tenths(880), treated=False)
    (said,) = clinic_against_outside(outside, both, guideline, 2)
    assert (said.day, said.result, said.period, said.flag) == (2, "clinic-only", None, None)
    assert said.text == (
        "Clinic 145.5/88 mmHg at or above 140/90, outside the clinic awake 130.0/80.0 below 135/85, "
        "asleep 110.0/60.0 below 120/70 (ESC 2024): seen with a white-coat pattern, to be confirmed."
    )
    for part in (Circumstances(clinic_systolic=Tenths(1455)), Circumstances(clinic_diastolic=Tenths(880))):
        assert not list(clinic_against_outside(outside, part, guideline, 1))
    assert not list(clinic_against_outside(outside, both, a_guideline(clinic=None), 1))


def test_low_pressure_word_for_word() -> None:
    places = {AWAKE: "Awake average", ASLEEP: "Asleep average"}
    found = means(("104.9", "65.0"), ("90.0", "49.9"))
    first, second = low_pressure(found, Circumstances(treated=True), places, 2)
    assert [(one.period, one.day, one.result, one.subject) for one in (first, second)] == [
        (AWAKE, 2, "below-study-limit", Subject.LOW_PRESSURE),
        (ASLEEP, 2, "below-study-limit", Subject.LOW_PRESSURE),
    ]
    rest = "of Divisón-Garrote 2016 (a study, not a guideline); to be seen with symptoms."
    assert first.text == f"Awake average 104.9/65.0 mmHg: below 105/65 {rest}"
    assert second.text == f"Asleep average 90.0/49.9 mmHg: below 90/50 {rest}"
    assert not list(low_pressure(found, Circumstances(treated=False), places, 1))


def test_each_day_needs_its_own_readings_for_a_dip() -> None:
    """Two days; in the second night only three readings are valid, so that night's mean is not filed."""
    nights = tuple(
        Interval(datetime(2026, 3, d, 23, tzinfo=LONDON), datetime(2026, 3, d + 1, 7, tzinfo=LONDON)) for d in (3, 4)
    )
    recording = a_recording(readings_over(hours=48), diary=Diary(asleep=nights))
    examined = examined_of(recording, days=2)
    assert examined.adequacy is not None
    counts = tuple(
        replace(count, filed=not (count.day == 2 and count.period is ASLEEP)) for count in examined.adequacy.counts
    )
    found = summarise(recording, replace(examined, adequacy=replace(examined.adequacy, counts=counts)), rules_with())
    first, second = (found.statistic(StatisticName.SYSTOLIC_DIP, None, day) for day in (1, 2))
    assert first is not None and second is not None
    assert (first.value, second.value) == (Decimal("13.9"), None)
    assert (first.count, second.count) == (40, 40)
    assert second.reason == "not computable, because it needs 8 awake and 4 asleep valid readings"
    assert found.interpretation(Subject.SYSTOLIC_DIP, None, 1) is not None
    assert found.interpretation(Subject.SYSTOLIC_DIP, None, 2) is None


def test_a_count_that_was_never_stated_is_nought() -> None:
    assert Numbers.of((), "hourly").count(AWAKE, 1) == 0


def test_a_guideline_from_birth_on_applies_at_any_age() -> None:
    found = a_recording(person=a_person(birth_date=date(2026, 3, 1)))
    assert summarise(found, examined_of(found), rules_with(a_guideline(lowest_age=0))).rules.interpreted


def test_a_fall_just_below_a_boundary_is_printed_with_four_decimals_if_need_be() -> None:
    """100·1000.0/10000.1 = 9.9999…; three decimals would print 10.000 beside the class below 10 per cent."""
    found = dip(Decimal("10000.1"), Decimal("9000.1"))
    assert (str(found.percent), found.dip_class.id) == ("9.9999", "non-dipper")


OTHER_UNITS = {
    Unit.PER_MINUTE: r"heart-rate-(mean|mean-hourly|maximum|minimum|sd)",
    Unit.MMHG_PER_MINUTE: r"double-product-mean",
    Unit.PERCENT: r".*-(cv|load|dip)",
    Unit.HOURS: r".*-peak-time",
    Unit.ONE: r"aasi.*|.*-rhythm-[fp]",
}


@pytest.mark.parametrize("name", StatisticName)
def test_every_statistic_has_its_unit(name: StatisticName) -> None:
    """UCUM; pressures, their spread and their differences are in millimetres of mercury."""
    fitting = [unit for unit, pattern in OTHER_UNITS.items() if re.fullmatch(pattern, name)]
    assert [unit_of(name)] == (fitting or [Unit.MMHG])


def test_what_was_examined_stands_in_the_summary_as_it_is() -> None:
    examined = examined_of(a_recording())
    found = summarise(a_recording(), examined, rules_with())
    assert found.windows is examined.windows
    assert found.judged is examined.judged
    assert found.adequacy is examined.adequacy
    assert found.review is examined.review


def test_the_clock_of_a_curve_knows_seconds() -> None:
    assert clock_of(datetime(2026, 3, 3, 9, 45, 36, tzinfo=LONDON)) == pytest.approx(9.76)


def test_extremes_name_their_readings() -> None:
    """The profile has a ripple of ±4 (systolic) and ±2 (diastolic); by hand: asleep 114 to 122 over 68 to 72."""
    readings = [replace(one, heart_rate=None) if n < 3 else one for n, one in enumerate(readings_over())]
    found = summarise(a_recording(readings), examined_of(a_recording(readings)), rules_with())
    for name, period, value, count in (
        (StatisticName.SYSTOLIC_MAXIMUM, ASLEEP, "122.0", 8),
        (StatisticName.SYSTOLIC_MINIMUM, ASLEEP, "114.0", 8),
        (StatisticName.DIASTOLIC_MAXIMUM, ASLEEP, "72.0", 8),
        (StatisticName.DIASTOLIC_MINIMUM, ASLEEP, "68.0", 8),
        (StatisticName.SYSTOLIC_MAXIMUM, WHOLE, "142.0", 40),
        (StatisticName.HEART_RATE_MAXIMUM, WHOLE, "74.0", 37),
        (StatisticName.HEART_RATE_MINIMUM, WHOLE, "58.0", 37),
    ):
        one = found.statistic(name, period)
        assert one is not None and (str(one.value), one.count) == (value, count), name


def test_the_morning_is_that_of_the_longest_sleep() -> None:
    """A nap from 13 to 15 and the night from 23 to 7, both with a known waking: 120 after the nap, 150 after 7."""

    def profile(at: datetime) -> tuple[float, float, float]:
        return {7: 150, 8: 150, 15: 120, 16: 120}.get(at.hour, 130), 80, 70

    nap = Interval(datetime(2026, 3, 3, 13, tzinfo=LONDON), datetime(2026, 3, 3, 15, tzinfo=LONDON))
    night = Interval(datetime(2026, 3, 3, 23, tzinfo=LONDON), datetime(2026, 3, 4, 7, tzinfo=LONDON))
    recording = a_recording(readings_over(profile=profile), diary=Diary(asleep=(nap, night)))
    found = summarise(recording, examined_of(recording), rules_with())
    morning = found.statistic(StatisticName.MORNING_MEAN, None)
    assert morning is not None and morning.value == Decimal("150.0")


@pytest.mark.parametrize(("valid", "share"), [(100, True), (101, False)])
def test_twenty_per_cent_of_the_measured_readings_make_the_pulse_irregular(valid: int, share: bool) -> None:
    """20 of 100 are 20 per cent, 20 of 101 are 19.8."""
    readings = [
        a_reading(START + timedelta(minutes=10 * n), row=n + 1, irregular=True if n < 20 else None)
        for n in range(valid)
    ]
    recording = a_recording(readings, diary=Diary())
    assert irregular(recording, examined_of(recording)) is share


@pytest.mark.parametrize(("kept_out", "share"), [(range(20), True), (range(20, 40), False), (range(0), False)])
def test_a_reading_kept_out_of_the_means_still_tells_of_the_pulse(kept_out: range, share: bool) -> None:
    """21 of 101 measured are 20.8 per cent and 20 are 19.8, whichever of them enter the means."""
    many = 21 if share else 20
    readings = [
        a_reading(START + timedelta(minutes=10 * n), row=n + 1, irregular=True if n < many else None)
        for n in range(101)
    ]
    recording = a_recording([*readings, a_reading(START + timedelta(hours=20), None, None, row=200)], diary=Diary())
    examined = examined_of(recording)
    judged = tuple(
        Judged(reading=one.reading, use=Use.EXCLUDED, rule="range", why="too high") if n in kept_out else one
        for n, one in enumerate(examined.judged)
    )
    assert irregular(recording, replace(examined, judged=judged)) is share


def test_a_span_of_readings_ends_before_its_end() -> None:
    table = columns(examined_of(a_recording()).judged)
    spans = [Interval(START + timedelta(hours=n), START + timedelta(hours=n + 1)) for n in (1, 3)]
    first, second = (instant(span.start) for span in spans)
    assert inside(table, spans).seconds.tolist() == [first, first + 1800, second, second + 1800]
