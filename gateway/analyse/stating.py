"""One way to state a number or the reason why there is none."""

from dataclasses import dataclass
from decimal import Decimal

from gateway.analyse.tally import Moments
from gateway.analyse.words import Because
from gateway.model import PeriodName, Statistic, StatisticName, Unit, reported
from gateway.model.phrase import Phrase

_UNITS = {
    StatisticName.HEART_RATE_MEAN: Unit.PER_MINUTE,
    StatisticName.HEART_RATE_MEAN_HOURLY: Unit.PER_MINUTE,
    StatisticName.HEART_RATE_MAXIMUM: Unit.PER_MINUTE,
    StatisticName.HEART_RATE_MINIMUM: Unit.PER_MINUTE,
    StatisticName.HEART_RATE_SD: Unit.PER_MINUTE,
    StatisticName.DOUBLE_PRODUCT_MEAN: Unit.MMHG_PER_MINUTE,
    StatisticName.SYSTOLIC_CV: Unit.PERCENT,
    StatisticName.DIASTOLIC_CV: Unit.PERCENT,
    StatisticName.SYSTOLIC_LOAD: Unit.PERCENT,
    StatisticName.DIASTOLIC_LOAD: Unit.PERCENT,
    StatisticName.SYSTOLIC_DIP: Unit.PERCENT,
    StatisticName.DIASTOLIC_DIP: Unit.PERCENT,
    StatisticName.HEART_RATE_DIP: Unit.PERCENT,
    StatisticName.AASI: Unit.ONE,
    StatisticName.AASI_SYMMETRIC: Unit.ONE,
    StatisticName.SYSTOLIC_PEAK_TIME: Unit.HOURS,
    StatisticName.DIASTOLIC_PEAK_TIME: Unit.HOURS,
    StatisticName.SYSTOLIC_RHYTHM_F: Unit.ONE,
    StatisticName.DIASTOLIC_RHYTHM_F: Unit.ONE,
    StatisticName.SYSTOLIC_RHYTHM_P: Unit.ONE,
    StatisticName.DIASTOLIC_RHYTHM_P: Unit.ONE,
}


@dataclass(frozen=True, slots=True)
class Place:
    """Period (None: the whole day) and day that a statistic belongs to."""

    period: PeriodName | None
    day: int


def unit_of(name: StatisticName) -> Unit:
    """Unit in which a statistic is reported; mmHg unless it is something else."""
    return _UNITS.get(name, Unit.MMHG)


def state(name: StatisticName, place: Place, count: int, found: Decimal | Because) -> Statistic:
    """A statistic with its value, or with the reason instead."""
    return Statistic(
        name=name,
        period=place.period,
        day=place.day,
        unit=unit_of(name),
        count=count,
        value=None if isinstance(found, Because) else found,
        reason=Phrase(found.value) if isinstance(found, Because) else None,
    )


def average(moments: Moments) -> Decimal | None:
    """Arithmetic mean in mmHg or per minute, half up to one decimal, from the exact sum; None without readings."""
    return reported(moments.total, 10 * moments.count) if moments.count else None
