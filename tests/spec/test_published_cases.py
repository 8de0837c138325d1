"""Cases that a source prints with their result, or that follow from printed numbers by plain arithmetic."""

from decimal import Decimal
from math import sqrt

import numpy as np
import pytest

from gateway.analyse.cohort import loads
from gateway.analyse.columns import Columns, Seconds
from gateway.analyse.dip import dip
from gateway.analyse.surge import surges
from gateway.mapping.studies import LOW_PRESSURE
from gateway.model import PeriodName, StatisticName, Subject, Tenths, reported
from tests.spec.test_interpretation_limits import ASLEEP, AWAKE, WHOLE, result, summed
from tests.spec.test_statistics_worked import EIGHT, constant
from tests.unit.analyse.columns_of import one_cell
from tests.unit.analyse.examined import a_guideline
from tests.unit.validate.ruling import guideline


def readings(*pairs: tuple[int, float]) -> Columns:
    """Minutes from waking and systolic pressures."""
    return one_cell([minute for minute, _ in pairs], [value for _, value in pairs], [60] * len(pairs)).columns


# Gosse 2006, table II (PMC8109621): lowest at night, early morning, printed surge of systolic pressure. The printed
# surges are means of persons; they lie within 1 mmHg of the difference of the group means, which is computed here.
@pytest.mark.parametrize(
    ("lowest", "morning", "printed", "computed"),
    [(124, 144, 20, "20.0"), (118, 157, 40, "39.0"), (136, 155, 19, "19.0")],
)
def test_surges_of_printed_group_means(lowest: int, morning: int, printed: int, computed: str) -> None:
    night = [(-240, lowest + 9), (-180, lowest), (-150, lowest), (-60, lowest + 12)]
    table = readings(*night, (0, morning - 4), (30, morning + 4), (60, morning), (120, 999))
    asleep = readings(*night)
    found = {one.name: one for one in surges(table, asleep, Seconds(0), 1)}
    surge = found[StatisticName.SURGE_SLEEP_TROUGH]
    assert str(surge.value) == computed
    assert surge.value is not None
    assert abs(surge.value - printed) <= 1
    assert str(found[StatisticName.MORNING_MEAN].value) == f"{morning}.0"


# The same table calls a person a dipper below 90 % in both components; ours are classed each by itself.
@pytest.mark.parametrize(
    ("awake", "asleep", "ratio"),
    [
        (153, 130, 0.8496732026143791),
        (156, 128, 0.8205128205128205),
        (152, 147, 0.9671052631578947),
        (135, 120, 8 / 9),
        (85, 75, 15 / 17),
    ],
)
def test_the_dip_is_one_less_the_ratio_of_asleep_to_awake(awake: int, asleep: int, ratio: float) -> None:
    """Fagard 2009 states ratios; 135/85 awake and 120/75 asleep are the usual pair of limits."""
    assert float(dip(Decimal(awake), Decimal(asleep)).percent) == pytest.approx(100 * (1 - ratio), abs=0.05)


def test_pulse_pressure_of_110_and_80() -> None:
    """30: printed beside 40 and 45 as the example of a narrow one (general teaching page)."""
    assert constant(110, 80, 70)[1] == Decimal("30.0")


def test_eight_readings_beside_their_other_figures() -> None:
    """Constructed: r 0.9752, slope 0.5, mean pressure of means 96.67, pulse pressure 50, both by exact fractions."""
    line = EIGHT.line
    assert line.xy / line.xx == 0.5
    assert line.xy / sqrt(line.xx * line.yy) == pytest.approx(0.9752368720068674, rel=1e-12)
    assert line.yy / line.xy == pytest.approx(0.5257142857142857, rel=1e-12)  # the slope of the other line
    assert reported(EIGHT.systolic.total - EIGHT.diastolic.total, 10 * 8) == Decimal("50.0")
    assert reported(EIGHT.systolic.total + 2 * EIGHT.diastolic.total, 30 * 8) == Decimal("96.7")


def test_the_trap_of_a_load_above_instead_of_at_a_limit() -> None:
    """Of the eight systolic pressures three are at or above 135 (37.5 %), two are above it (25 %)."""
    cells = one_cell([0] * 8, [120, 130, 125, 140, 135, 150, 110, 130], [60] * 8)
    for limit, share in ((1350, 375), (1351, 250)):
        found = loads(cells, np.array([limit]), np.array([limit]))[StatisticName.SYSTOLIC_LOAD]
        assert found.tenths.tolist() == [share]


# Owens 1999 (PubMed 10454452): printed group means of two kinds of white-coat pattern; all lie below ESC's limits,
# whatever the clinic showed.
@pytest.mark.parametrize(("awake", "asleep"), [((127, 78), (114, 67)), ((121, 74), (106, 61))])
def test_printed_means_of_a_white_coat_pattern(awake: tuple[int, int], asleep: tuple[int, int]) -> None:
    clinic = {"clinic_systolic": Tenths(1500), "clinic_diastolic": Tenths(950)}
    found = summed(awake, asleep, a_guideline(), treated=False, **clinic)
    assert result(found, Subject.CLINIC_PATTERN, None) == "clinic-only"
    assert result(found, Subject.PATTERN, None) == "nothing said"


# Staessen 2000 rounded the 95th percentiles (132/82 for 24 h, 138/87 awake, 123/74 asleep) down to its limits of
# normotension; ESC's limits are those for 24 hours and awake, and its asleep limit is the rounded one.
@pytest.mark.parametrize(
    ("period", "percentile", "rounded"),
    [(WHOLE, (132, 82), (130, 80)), (AWAKE, (138, 87), (135, 85)), (ASLEEP, (123, 74), (120, 70))],
)
def test_limits_are_the_rounded_percentiles(
    period: PeriodName, percentile: tuple[int, int], rounded: tuple[int, int]
) -> None:
    limits = guideline("esc-2024").of(period)
    assert limits is not None
    bar = next(grade for grade in limits.grades if grade.deciding)
    assert (bar.systolic, bar.diastolic) == rounded
    assert tuple(5 * (value // 5) for value in percentile) == rounded


def test_low_limits_of_the_study() -> None:
    """Divisón-Garrote 2016: awake 105/65, asleep 90/50, 24 h 100/60; either component is enough."""
    assert {one.period: (one.systolic, one.diastolic) for one in LOW_PRESSURE} == {
        AWAKE: (105, 65),
        ASLEEP: (90, 50),
        WHOLE: (100, 60),
    }
    for mean, said in (((100, 60), False), ((99.9, 60), True), ((100, 59.9), True)):
        found = summed(mean, mean, a_guideline(), treated=True)
        remarks = {one.period for one in found.interpretations if one.subject is Subject.LOW_PRESSURE}
        assert (WHOLE in remarks) is said
