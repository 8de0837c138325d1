"""Values on both sides of each guideline's limits, through the shipped files and the whole of validation.

Sources stand beside the limits in `test_guideline_limits.py`.
"""

import pytest

from gateway.analyse import summarise
from gateway.model import Circumstances, PeriodName, Subject, Summary, Tenths
from tests.builders import a_recording, readings_over
from tests.unit.validate.ruling import examined, rules

WHOLE, AWAKE, ASLEEP = PeriodName.WHOLE, PeriodName.AWAKE, PeriodName.ASLEEP
Pair = tuple[float, float]


def summary(name: str, awake: Pair, asleep: Pair, **facts: object) -> Summary:
    readings = readings_over(
        profile=lambda at: (*(asleep if at.hour >= 23 or at.hour < 7 else awake), 60),
    )
    recording = a_recording(readings, circumstances=Circumstances(**facts))  # type: ignore[arg-type]
    return summarise(recording, examined(recording, name), rules(name))


def result(found: Summary, subject: Subject, period: PeriodName | None) -> str | None:
    said = found.interpretation(subject, period)
    return said.result if said else None


LIMIT = "at-or-above-limit"


@pytest.mark.parametrize(
    ("name", "period", "mean", "named"),
    [
        # ESC 2024
        ("esc-2024", AWAKE, (135, 80), LIMIT),
        ("esc-2024", AWAKE, (134.9, 84.9), "elevated"),
        ("esc-2024", AWAKE, (128, 86), LIMIT),
        ("esc-2024", ASLEEP, (119, 70), LIMIT),
        ("esc-2024", WHOLE, (114, 64), "non-elevated"),
        ("esc-2024", WHOLE, (115, 64), "elevated"),
        # NICE NG136: the printed 149/94 and 150/95 leave no gap
        ("nice-ng136", AWAKE, (135, 80), LIMIT),
        ("nice-ng136", AWAKE, (149, 94), LIMIT),
        ("nice-ng136", AWAKE, (149.5, 94.5), LIMIT),
        ("nice-ng136", AWAKE, (150, 90), "at-or-above-upper-limit"),
        ("nice-ng136", AWAKE, (140, 95), "at-or-above-upper-limit"),
        ("nice-ng136", ASLEEP, (160, 100), None),
        ("nice-ng136", WHOLE, (160, 100), None),
        # AHA/ACC 2025 and 2017
        ("aha-acc-2025", AWAKE, (134.9, 79.9), LIMIT),
        ("aha-acc-2025", AWAKE, (129.9, 79.9), "clinic-120-80"),
        ("aha-acc-2025", ASLEEP, (109.9, 64.9), "clinic-120-80"),
        ("acc-aha-2017", AWAKE, (130, 70), LIMIT),
        ("acc-aha-2017", AWAKE, (119.9, 79.9), "below-limits"),
        ("acc-aha-2017", WHOLE, (124.9, 74.9), "clinic-120-80"),
        ("acc-aha-2017", ASLEEP, (110, 60), LIMIT),
        # ESH 2023
        ("esh-2023", WHOLE, (130, 70), LIMIT),
        ("esh-2023", WHOLE, (129.9, 79.9), "below-limit"),
        ("esh-2023", ASLEEP, (110, 70), LIMIT),
        ("esh-2023", ASLEEP, (119.9, 69.9), "below-limit"),
        # Hypertension Canada 2017/2020
        ("hypertension-canada-2020", WHOLE, (129.9, 80), LIMIT),
        ("hypertension-canada-2020", AWAKE, (134.9, 84.9), "below-limit"),
        ("hypertension-canada-2020", AWAKE, (135, 84.9), LIMIT),
        ("hypertension-canada-2020", ASLEEP, (160, 100), None),
        # ISH 2020, JSH 2019
        ("ish-2020", WHOLE, (130, 79.9), LIMIT),
        ("ish-2020", AWAKE, (134.9, 84.9), "below-limit"),
        ("jsh-2019", AWAKE, (135, 84.9), LIMIT),
        ("jsh-2019", ASLEEP, (119.9, 69.9), "below-limit"),
    ],
)
def test_class_of_a_mean(name: str, period: PeriodName, mean: Pair, named: str | None) -> None:
    assert result(summary(name, mean, mean), Subject.PRESSURE, period) == named


# Two by two of clinic (140/90) and awake (135/85) pressure, AHA/ACC 2025 Table 9 form
@pytest.mark.parametrize(
    ("name", "clinic", "awake", "named"),
    [
        ("nice-ng136", (140, 89), (134, 84), "clinic-only"),
        ("nice-ng136", (139, 89), (135, 80), "outside-only"),
        ("esh-2023", (140, 89), (129, 79), "clinic-only"),
        ("hypertension-canada-2020", (139, 89), (135, 80), "outside-only"),
        ("acc-aha-2017", (130, 79), (124, 74), "clinic-only"),
        ("acc-aha-2017", (129, 79), (130, 74), "outside-only"),
    ],
)
def test_clinic_against_outside(name: str, clinic: tuple[int, int], awake: Pair, named: str) -> None:
    facts = {"clinic_systolic": Tenths(clinic[0] * 10), "clinic_diastolic": Tenths(clinic[1] * 10)}
    found = summary(name, awake, (100, 60), treated=False, **facts)
    assert result(found, Subject.CLINIC_PATTERN, None) == named


def test_without_a_night_limit_nothing_is_said_of_the_night_alone() -> None:
    found = summary("hypertension-canada-2020", (125, 75), (140, 90))
    assert result(found, Subject.PATTERN, None) is None
    assert result(summary("esh-2023", (125, 75), (121, 65)), Subject.PATTERN, None) == "asleep-only"
