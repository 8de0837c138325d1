"""How means lie against published limits, at the edges. Lower limits are included, there are no upper limits.

Limits: ESC 2024 (Eur Heart J 2024;45:3912, doi 10.1093/eurheartj/ehae178; non-elevated from PubMed 40249369), NICE
NG136, AHA/ACC 2025 table 9. Clinic against ambulatory 140/90 and 135/85: AHA/ACC 2025 table 9 form.
"""

from decimal import Decimal

import pytest

from gateway.analyse import summarise
from gateway.mapping.guideline import Guideline
from gateway.model import (
    Circumstances,
    Flag,
    PeriodName,
    StatisticName,
    Subject,
    Summary,
    Tenths,
)
from tests.builders import a_recording, readings_over
from tests.unit.analyse.examined import a_guideline, examined_of, grade, limits, rules_with

AWAKE, ASLEEP, WHOLE = PeriodName.AWAKE, PeriodName.ASLEEP, PeriodName.WHOLE

NICE = a_guideline(
    id="nice",
    short="NICE NG136",
    limits=(
        limits(
            AWAKE,
            grade("below-limit", None, None),
            grade("at-or-above-135-85", 135, 85, deciding=True),
            grade("at-or-above-150-95", 150, 95, words="second limit"),
        ),
    ),
    deciding_periods=(AWAKE,),
    load=(),
)
AHA = a_guideline(
    id="aha",
    short="AHA/ACC 2025",
    limits=(
        limits(WHOLE, grade("below-limit", None, None), grade("high", 125, 75, deciding=True)),
        limits(AWAKE, grade("below-limit", None, None), grade("high", 130, 80, deciding=True)),
        limits(ASLEEP, grade("below-limit", None, None), grade("high", 110, 65, deciding=True, flag="H")),
    ),
    deciding_periods=(WHOLE, AWAKE),
)


def summed(awake: tuple[float, float], asleep: tuple[float, float], guideline: Guideline, **facts: object) -> Summary:
    readings = readings_over(
        profile=lambda at: (*(asleep if at.hour >= 23 or at.hour < 7 else awake), 60),
    )
    recording = a_recording(readings, circumstances=Circumstances(**facts))  # type: ignore[arg-type]
    return summarise(recording, examined_of(recording), rules_with(guideline))


def result(summary: Summary, subject: Subject, period: PeriodName | None) -> str:
    found = summary.interpretation(subject, period)
    return found.result if found else "nothing said"


@pytest.mark.parametrize(
    ("awake", "named"),
    [
        ((135, 80), "at-or-above-limit"),
        ((134.9, 84.9), "elevated"),
        ((128, 86), "at-or-above-limit"),
        ((128, 85), "at-or-above-limit"),
        ((119.9, 69.9), "non-elevated"),
        ((120, 60), "elevated"),
        ((110, 70), "elevated"),
    ],
)
def test_awake_classes_of_esc_2024(awake: tuple[float, float], named: str) -> None:
    assert result(summed(awake, (100, 55), a_guideline()), Subject.PRESSURE, AWAKE) == named


@pytest.mark.parametrize(
    ("asleep", "named"),
    [((119, 70), "at-or-above-limit"), ((119.9, 69.9), "elevated"), ((109.9, 59.9), "non-elevated")],
)
def test_asleep_classes_of_esc_2024(asleep: tuple[float, float], named: str) -> None:
    assert result(summed((130, 80), asleep, a_guideline()), Subject.PRESSURE, ASLEEP) == named


@pytest.mark.parametrize(("mean", "named"), [((114, 64), "non-elevated"), ((115, 64), "elevated")])
def test_24_hour_classes_of_esc_2024(mean: tuple[float, float], named: str) -> None:
    assert result(summed(mean, mean, a_guideline()), Subject.PRESSURE, WHOLE) == named


@pytest.mark.parametrize(
    ("awake", "named"),
    [
        ((135, 80), "at-or-above-135-85"),
        ((149, 94), "at-or-above-135-85"),
        ((149.5, 94.5), "at-or-above-135-85"),  # printed stages 135/85–149/94 and ≥150/95 leave a gap here
        ((150, 90), "at-or-above-150-95"),
        ((140, 95), "at-or-above-150-95"),
        ((134.9, 84.9), "below-limit"),
    ],
)
def test_awake_limits_of_nice(awake: tuple[float, float], named: str) -> None:
    found = summed(awake, (110, 60), NICE)
    assert result(found, Subject.PRESSURE, AWAKE) == named
    assert found.interpretation(Subject.PRESSURE, ASLEEP) is None  # NICE gives no limit asleep
    assert found.interpretation(Subject.PRESSURE, WHOLE) is None


def test_aha_reads_134_9_as_high() -> None:
    found = summed((134.9, 84.9), (120, 70), AHA)
    assert result(found, Subject.PRESSURE, AWAKE) == "high"


def test_a_period_that_does_not_decide_is_compared_only() -> None:
    said = summed((125, 76), (115, 66), AHA)
    found, upper = (said.interpretation(subject, ASLEEP) for subject in (Subject.PRESSURE, Subject.SYSTOLIC))
    assert found is not None and upper is not None and upper.limit is not None
    assert (found.flag, upper.flag, upper.limit.value) == (None, None, Decimal(110))
    assert upper.text.startswith("Asleep average, systolic 115.0 mmHg: at or above 110, which AHA/ACC 2025 gives")
    assert found.text == (
        "Asleep average 115.0/66.0 mmHg: at or above 110/65, which AHA/ACC 2025 gives for comparison and does not "
        "decide on."
    )


def test_components_carry_their_own_class_flag_and_limit() -> None:
    found = summed((138.2, 84), (110, 60), a_guideline())
    pair = found.interpretation(Subject.PRESSURE, AWAKE)
    upper = found.interpretation(Subject.SYSTOLIC, AWAKE)
    lower = found.interpretation(Subject.DIASTOLIC, AWAKE)
    assert pair and upper and lower and upper.limit and lower.limit
    assert pair.text == "Awake average 138.2/84.0 mmHg: at or above the limit 135/85 of ESC 2024."
    assert pair.flag is Flag.HIGH
    assert upper.text == "Awake average, systolic 138.2 mmHg: at or above the limit 135 of ESC 2024."
    assert lower.text == "Awake average, diastolic 84.0 mmHg: below the limit 85 of ESC 2024."
    assert (upper.result, upper.flag, upper.limit.value) == ("at-or-above-limit", Flag.HIGH, Decimal(135))
    assert (lower.result, lower.flag, lower.limit.value) == ("elevated", None, Decimal(85))
    assert lower.limit.source == "ESC 2024"


def test_the_class_goes_by_the_reported_value() -> None:
    # 31 readings of 135 and one of 133.4: exact mean 134.95, reported 135.0 (half up), so at the limit
    values = iter([133.4] + [135.0] * 31 + [0] * 99)
    readings = readings_over(
        profile=lambda at: (110, 60, 60) if at.hour >= 23 or at.hour < 7 else (next(values), 70, 60),
    )
    recording = a_recording(readings)
    found = summarise(recording, examined_of(recording), rules_with())
    mean = found.statistic(StatisticName.SYSTOLIC_MEAN, AWAKE)
    assert mean is not None and (mean.value, mean.count) == (Decimal("135.0"), 32)
    assert result(found, Subject.SYSTOLIC, AWAKE) == "at-or-above-limit"


@pytest.mark.parametrize(
    ("clinic", "awake", "named", "words"),
    [
        ((140, 89), (134, 84), "clinic-only", "a white-coat pattern"),
        ((139, 89), (135, 80), "outside-only", "a masked pattern"),
        ((139, 89), (134, 84), "both-below", "pressure below the limits in and outside the clinic"),
        ((139, 90), (134, 85), "both-above", "sustained raised pressure"),
    ],
)
def test_clinic_against_awake(clinic: tuple[int, int], awake: tuple[int, int], named: str, words: str) -> None:
    facts = {"clinic_systolic": Tenths(clinic[0] * 10), "clinic_diastolic": Tenths(clinic[1] * 10)}
    found = summed(awake, (110, 60), NICE, treated=False, **facts)
    said = found.interpretation(Subject.CLINIC_PATTERN, None)
    assert said is not None and said.result == named
    assert said.text.endswith(f"seen with {words}, to be confirmed.")
    assert f"{clinic[0]}/{clinic[1]}" in said.text and "140/90" in said.text and "135/85" in said.text


def test_any_deciding_period_counts_as_raised_outside() -> None:
    # ESC: any of 24 h, awake or asleep
    facts = {"clinic_systolic": Tenths(1300), "clinic_diastolic": Tenths(800)}
    found = summed((130, 80), (121, 65), a_guideline(), treated=True, **facts)
    said = found.interpretation(Subject.CLINIC_PATTERN, None)
    assert said is not None
    assert said.text == (
        "Clinic 130/80 mmHg below 140/90, outside the clinic 24-hour 127.0/75.0 below 130/80, "
        "awake 130.0/80.0 below 135/85, asleep 121.0/65.0 at or above 120/70 (ESC 2024): "
        "seen with a masked pattern under treatment, to be confirmed."
    )


@pytest.mark.parametrize(
    ("awake", "asleep", "named"),
    [
        ((130, 80), (120, 65), "asleep-only"),
        ((130, 84.9), (110, 70), "asleep-only"),
        ((135, 80), (119.9, 69.9), "awake-only"),
        ((135, 80), (120, 60), "nothing said"),
        ((134.9, 80), (119.9, 60), "nothing said"),
    ],
)
def test_raised_in_one_of_awake_and_asleep_only(
    awake: tuple[float, float], asleep: tuple[float, float], named: str
) -> None:
    # isolated nocturnal: asleep ≥ 120/70 with awake < 135/85, Li 2007
    assert result(summed(awake, asleep, a_guideline()), Subject.PATTERN, None) == named


@pytest.mark.parametrize(
    ("awake", "asleep", "treated", "said"),
    [
        ((104.9, 65), (90, 50), True, {AWAKE}),
        ((105, 65), (89.9, 50), None, {ASLEEP}),
        ((105, 65), (90, 50), True, set()),
        ((104, 64), (80, 40), False, set()),
    ],
)
def test_low_means_are_remarked_upon_only_if_treated_or_unknown(
    awake: tuple[float, float], asleep: tuple[float, float], treated: bool | None, said: set[PeriodName]
) -> None:
    # Divisón-Garrote 2016 (J Am Soc Hypertens 10:714): awake <105/65, asleep <90/50, 24 h <100/60
    found = summed(awake, asleep, a_guideline(), treated=treated)
    remarks = [i for i in found.interpretations if i.subject is Subject.LOW_PRESSURE]
    assert {i.period for i in remarks} - {WHOLE} == said
    assert all(i.flag is None and "a study, not a guideline" in i.text for i in remarks)


def test_the_two_24_hour_means_on_different_sides_are_said() -> None:
    # 32 awake readings of 136/83 and 8 asleep of 114/60: plain 131.6, by hours 128.7, limit 130
    found = summed((136, 83), (114, 60), a_guideline())
    plain = found.statistic(StatisticName.SYSTOLIC_MEAN, WHOLE)
    hourly = found.statistic(StatisticName.SYSTOLIC_MEAN_HOURLY, WHOLE)
    assert plain and hourly and (plain.value, hourly.value) == (Decimal("131.6"), Decimal("128.7"))
    assert result(found, Subject.PRESSURE, WHOLE) == "elevated"
    assert (
        "24-hour average: arithmetic mean 131.6/78.4 and mean of hourly means 128.7/75.3 mmHg lie on different sides "
        "of the limit 130/80 of ESC 2024; the mean of hourly means decides."
    ) in found.conclusion
    other = summed((136, 83), (114, 60), a_guideline(deciding_mean="arithmetic"))
    assert result(other, Subject.PRESSURE, WHOLE) == "at-or-above-limit"
    assert any(sentence.endswith("the arithmetic mean decides.") for sentence in other.conclusion)


@pytest.mark.parametrize(
    ("awake", "guideline", "text"),
    [
        ((119, 69), "esc", "Awake average 119.0/69.0 mmHg: below the limit 135/85 of ESC 2024."),
        (
            (121, 69),
            "esc",
            "Awake average 121.0/69.0 mmHg: below the limit 135/85 of ESC 2024 (elevated, 120/70 and above).",
        ),
        ((136, 69), "esc", "Awake average 136.0/69.0 mmHg: at or above the limit 135/85 of ESC 2024."),
        (
            (151, 69),
            "nice",
            "Awake average 151.0/69.0 mmHg: at or above the limit 135/85 of NICE NG136 "
            "(second limit, 150/95 and above).",
        ),
    ],
)
def test_the_sentence_of_each_class(awake: tuple[float, float], guideline: str, text: str) -> None:
    chosen = {"esc": a_guideline(), "nice": NICE}[guideline]
    found = summed(awake, (100, 55), chosen).interpretation(Subject.PRESSURE, AWAKE)
    assert found is not None and found.text == text


def test_below_a_value_given_for_comparison() -> None:
    found = summed((125, 76), (109, 64), AHA).interpretation(Subject.PRESSURE, ASLEEP)
    assert found is not None
    assert found.text.startswith(
        "Asleep average 109.0/64.0 mmHg: below 110/65, which AHA/ACC 2025 gives for comparison"
    )


def test_each_component_is_held_against_its_own_limit() -> None:
    found = summed((119, 86), (100, 55), a_guideline())
    assert result(found, Subject.SYSTOLIC, AWAKE) == "non-elevated"
    assert result(found, Subject.DIASTOLIC, AWAKE) == "at-or-above-limit"
    assert result(found, Subject.PRESSURE, AWAKE) == "at-or-above-limit"
