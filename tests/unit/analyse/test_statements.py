"""Statements word for word, and what must hold before one is made."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from gateway.analyse import summarise
from gateway.analyse.applicability import may_interpret
from gateway.analyse.interpret import interpret
from gateway.analyse.numbers import Pair
from gateway.analyse.patterns import awake_against_asleep, clinic_against_outside, low_pressure
from gateway.model import Circumstances, PeriodName, Review, Subject, Tenths, Verdict
from tests.builders import a_person, a_recording
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
    both = Circumstances(clinic_systolic=Tenths(1455), clinic_diastolic=Tenths(880))
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
