"""Numbers of the analysis that come from studies or common practice rather than from a guideline."""

from decimal import Decimal

from gateway.mapping.guideline import Cited, Standing
from gateway.mapping.parse import Declared
from gateway.model import PeriodName


class LowLimit(Cited):
    """A mean of the period below either value (mmHg, strictly) is remarked upon when treated or unknown."""

    period: PeriodName
    systolic: Decimal
    diastolic: Decimal


_LOW = "Divisón-Garrote 2016, J Am Soc Hypertens 10:714; a study, not a guideline"

LOW_PRESSURE: tuple[LowLimit, ...] = (
    LowLimit(
        period=PeriodName.AWAKE,
        systolic=Decimal(105),
        diastolic=Decimal(65),
        citation=_LOW,
        standing=Standing.VERIFIED,
    ),
    LowLimit(
        period=PeriodName.ASLEEP,
        systolic=Decimal(90),
        diastolic=Decimal(50),
        citation=_LOW,
        standing=Standing.VERIFIED,
    ),
    LowLimit(
        period=PeriodName.WHOLE,
        systolic=Decimal(100),
        diastolic=Decimal(60),
        citation=_LOW,
        standing=Standing.VERIFIED,
    ),
)
LOW_PRESSURE_STUDY = "Divisón-Garrote 2016"


class Needs(Declared):
    """What a statistic needs before it is stated; below it there is a reason instead of a number.

    `irregular_percent`: share of measured readings marked irregular from which variability, stiffness and double
    product are not stated. `day_hours`: hours of 24 that must hold a valid reading before the mean is called a
    24-hour mean. `stiffness_r` with `stiffness_sd` (systolic, mmHg) and `stiffness_readings`, `rhythm_span`
    (hours) with `rhythm_readings`, `surge_readings` in each window of a surge.
    """

    irregular_percent: int
    day_hours: int
    stiffness_readings: int
    stiffness_r: Decimal
    stiffness_sd: Decimal
    rhythm_readings: int
    rhythm_span: int
    surge_readings: int


NEEDS = Needs(
    irregular_percent=20,
    day_hours=20,
    stiffness_readings=20,
    stiffness_r=Decimal("0.5"),
    stiffness_sd=Decimal(5),
    rhythm_readings=20,
    rhythm_span=20,
    surge_readings=2,
)
"""Common practice of this project, without a single published source. r: 95 per cent of people lie above 0.5
(Gavish 2008, read in its abstract), below it the slope says little about the artery."""
