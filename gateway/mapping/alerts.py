"""A site's own alert rules as data: a statistic, or a number of readings, at a limit that the site chose.

They are no published limits. What they say is text only and never a diagnosis.
"""

from decimal import Decimal
from typing import Literal, Self

from pydantic import Field, model_validator

from gateway.mapping.parse import Declared
from gateway.model import PeriodName, StatisticName

_NEVER = ("hypertens", "diagnos", "controlled", "normal", "disease", "patient")
"""what a name must not say of a person (the same words that no sentence may hold)"""

OF_THE_DAY = frozenset(
    name
    for name in StatisticName
    if name.endswith(("-dip", "-sd-weighted", "-mesor", "-amplitude", "-peak-time", "-rhythm-f", "-rhythm-p"))
    or name.startswith(("surge-", "first-hour-", "aasi", "morning-"))
)
"""statistics of a whole day, which have no period"""


class AlertRule(Declared):
    """One rule: `statistic` of a period, or `readings` valid readings of `reading`, `at_or_above` or `below` a limit.

    Limits are in the unit of the statistic (mmHg, per minute, per cent); `at_or_above` is inclusive, `below` is not.
    `period` is left out for a statistic of the whole day (dip, surge …). `everyone`: also for persons to whom the
    guideline's limits may not be applied (children, pregnancy, unknown age); else they are left out.
    """

    name: str = Field(min_length=3, max_length=80)
    statistic: StatisticName | None = None
    reading: Literal["systolic", "diastolic", "heart-rate"] | None = None
    period: PeriodName | None = None
    at_or_above: Decimal | None = None
    below: Decimal | None = None
    readings: int = Field(default=1, ge=1)
    everyone: bool = False

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if (self.statistic is None) == (self.reading is None):
            raise ValueError(
                'name one of statistic (for example "systolic-mean") and reading (for example "systolic")'
            )
        if (self.at_or_above is None) == (self.below is None):
            raise ValueError("write one of at_or_above and below")
        if (self.period is None) != (self.statistic in OF_THE_DAY):
            raise ValueError('period: write "24h", "awake" or "asleep"; a statistic of the whole day has none')
        if self.statistic is not None and self.readings != 1:
            raise ValueError("readings: belongs to a rule on readings, not on a statistic")
        if any(word in self.name.lower() for word in _NEVER):
            raise ValueError("name: says what the rule is, not what a person has")
        return self

    def meets(self, value: Decimal) -> bool:
        """Does a value meet the rule?"""
        if self.at_or_above is not None:
            return value >= self.at_or_above
        return self.below is not None and value < self.below
