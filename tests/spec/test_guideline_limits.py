"""Limits of the shipped guideline files against the published tables, typed here once more from the sources."""

from decimal import Decimal

import pytest

from gateway.mapping.guideline import Standing
from gateway.model import Flag, PeriodName
from tests.unit.validate.ruling import guideline

WHOLE, AWAKE, ASLEEP = PeriodName.WHOLE, PeriodName.AWAKE, PeriodName.ASLEEP

# guideline, period, deciding limit
DECIDING = [
    # ESC 2024, doi 10.1093/eurheartj/ehae178, criteria as reprinted in BMJ Best Practice
    ("esc-2024", WHOLE, 130, 80),
    ("esc-2024", AWAKE, 135, 85),
    ("esc-2024", ASLEEP, 120, 70),
    # NICE NG136 as told in GPnotebook; CG127 in Br J Gen Pract 2012;62(596):163
    ("nice-ng136", AWAKE, 135, 85),
    # AHA/ACC 2025 Tables 7 and 9 (Guideline Central 1512419)
    ("aha-acc-2025", WHOLE, 125, 75),
    ("aha-acc-2025", AWAKE, 130, 80),
    ("aha-acc-2025", ASLEEP, 110, 65),
]


@pytest.mark.parametrize(("name", "period", "systolic", "diastolic"), DECIDING)
def test_deciding_limits(name: str, period: PeriodName, systolic: int, diastolic: int) -> None:
    limits = guideline(name).of(period)
    assert limits is not None
    bar = next(grade for grade in limits.grades if grade.deciding)
    assert (bar.systolic, bar.diastolic) == (systolic, diastolic)
    assert bar.standing is Standing.VERIFIED


# ESC 2024 "non-elevated" is below these (Eur Heart J 2025, doi 10.1093/eurheartj/ehaf220, PubMed 40249369)
@pytest.mark.parametrize(("period", "pair"), [(WHOLE, (115, 65)), (AWAKE, (120, 70)), (ASLEEP, (110, 60))])
def test_esc_elevated_begins_where_non_elevated_ends(period: PeriodName, pair: tuple[int, int]) -> None:
    limits = guideline("esc-2024").of(period)
    assert limits is not None
    assert [grade.id for grade in limits.grades] == ["non-elevated", "elevated", "at-or-above-limit"]
    assert (limits.grades[1].systolic, limits.grades[1].diastolic) == pair


# AHA/ACC 2025 Table 7: ambulatory pressures that correspond to a clinic pressure
TABLE_7 = {
    WHOLE: [(115, 75), (125, 75), (130, 80), (145, 90)],
    AWAKE: [(120, 80), (130, 80), (135, 85), (145, 90)],
    ASLEEP: [(100, 65), (110, 65), (120, 70), (140, 85)],
}


@pytest.mark.parametrize("period", TABLE_7)
def test_aha_acc_table_7(period: PeriodName) -> None:
    limits = guideline("aha-acc-2025").of(period)
    assert limits is not None
    assert [(grade.systolic, grade.diastolic) for grade in limits.grades[1:]] == TABLE_7[period]


def test_aha_acc_does_not_decide_on_the_night() -> None:
    assert guideline("aha-acc-2025").deciding_periods == (WHOLE, AWAKE)


def test_nice_has_a_second_limit_and_no_limits_but_awake() -> None:
    nice = guideline("nice-ng136")
    limits = nice.of(AWAKE)
    assert limits is not None
    assert (limits.grades[2].systolic, limits.grades[2].diastolic) == (150, 95)
    assert nice.of(WHOLE) is None
    assert nice.of(ASLEEP) is None


@pytest.mark.parametrize(
    ("name", "pair", "standing"),
    [
        ("nice-ng136", (140, 90), Standing.VERIFIED),
        ("aha-acc-2025", (130, 80), Standing.VERIFIED),
        ("esc-2024", (140, 90), Standing.MEMORY),  # from memory
    ],
)
def test_clinic_limits(name: str, pair: tuple[int, int], standing: Standing) -> None:
    clinic = guideline(name).clinic
    assert clinic is not None
    assert (clinic.systolic, clinic.diastolic, clinic.standing) == (*pair, standing)


NAMES = ["esc-2024", "nice-ng136", "aha-acc-2025"]


@pytest.mark.parametrize("name", NAMES)
def test_flags_stand_only_at_and_above_the_deciding_limit(name: str) -> None:
    """No source of these calls a pressure normal, so N stands nowhere; L neither."""
    for limits in guideline(name).limits:
        at = next(position for position, grade in enumerate(limits.grades) if grade.deciding)
        flags = [grade.flag for grade in limits.grades]
        decides = limits.period in guideline(name).deciding_periods
        assert flags == [Flag.HIGH if decides and n >= at else None for n in range(len(flags))]


@pytest.mark.parametrize("name", NAMES)
def test_printed_words_name_no_disease_and_no_stage(name: str) -> None:
    for limits in guideline(name).limits:
        for grade in limits.grades:
            for word in ("hypertens", "stage", "diagnos", "controlled", "normal", "severe"):
                assert word not in grade.words.lower()


@pytest.mark.parametrize("name", NAMES)
def test_no_shipped_guideline_needs_an_approval(name: str) -> None:
    assert not guideline(name).needs_approval


@pytest.mark.parametrize(
    ("name", "standing"),
    [
        ("esc-2024", Standing.SECONDARY),  # seen in an AI-written summary only
        ("nice-ng136", Standing.VERIFIED),  # Br J Gen Pract 2012;62(596):163
        ("aha-acc-2025", Standing.VERIFIED),  # Hypertension Canada 2017, borrowed
    ],
)
def test_standing_of_the_adequacy_rules(name: str, standing: Standing) -> None:
    assert guideline(name).adequacy.standing is standing


def test_loads_are_taken_against_the_deciding_limits() -> None:
    for name in NAMES:
        for load in guideline(name).load:
            limits = guideline(name).of(load.period)
            assert limits is not None
            bar = next(grade for grade in limits.grades if grade.deciding)
            assert (load.systolic, load.diastolic) == (bar.systolic, bar.diastolic)
            assert isinstance(load.systolic, Decimal)
