"""The statistics by name, and the pair of means that stands for a period."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Self

from gateway.model import PeriodName, Statistic, StatisticName

Key = tuple[StatisticName, PeriodName | None, int]


@dataclass(frozen=True, slots=True)
class Pair:
    """Reported systolic and diastolic mean, mmHg, one decimal."""

    systolic: Decimal
    diastolic: Decimal


@dataclass(frozen=True, slots=True)
class Numbers:
    """All statistics of one recording. `deciding` is "arithmetic" or "hourly" for the 24-hour pair."""

    by_key: Mapping[Key, Statistic]
    deciding: str

    @classmethod
    def of(cls, statistics: Iterable[Statistic], deciding: str) -> Self:
        """Index the statistics."""
        return cls({(found.name, found.period, found.day): found for found in statistics}, deciding)

    def value(self, name: StatisticName, period: PeriodName | None, day: int) -> Decimal | None:
        """A reported value, None where it was not computable or not asked for."""
        found = self.by_key.get((name, period, day))
        return found.value if found else None

    def count(self, period: PeriodName, day: int) -> int:
        """Valid readings behind a period's means."""
        found = self.by_key.get((StatisticName.SYSTOLIC_MEAN, period, day))
        return found.count if found else 0

    def arithmetic(self, period: PeriodName, day: int) -> Pair | None:
        """Arithmetic means of a period."""
        return self._pair(StatisticName.SYSTOLIC_MEAN, StatisticName.DIASTOLIC_MEAN, period, day)

    def hourly(self, day: int) -> Pair | None:
        """Means of the hourly means of 24 hours."""
        return self._pair(
            StatisticName.SYSTOLIC_MEAN_HOURLY, StatisticName.DIASTOLIC_MEAN_HOURLY, PeriodName.WHOLE, day
        )

    def deciding_pair(self, period: PeriodName, day: int) -> Pair | None:
        """The pair that is held against the limit: for 24 hours the one that the guideline decides on."""
        if period is PeriodName.WHOLE and self.deciding == "hourly":
            return self.hourly(day)
        return self.arithmetic(period, day)

    def _pair(self, upper: StatisticName, lower: StatisticName, period: PeriodName, day: int) -> Pair | None:
        systolic, diastolic = self.value(upper, period, day), self.value(lower, period, day)
        return None if systolic is None or diastolic is None else Pair(systolic, diastolic)
