"""Which single readings are believable: named rule sets with their source."""

from decimal import Decimal
from typing import Self

from pydantic import Field, model_validator

from gateway.mapping.guideline import Cited
from gateway.mapping.parse import Declared


class Range(Cited):
    """Inclusive range, mmHg or beats per minute."""

    low: Decimal
    high: Decimal

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.low >= self.high:
            raise ValueError("low must be less than high")
        return self


class Spread(Cited):
    """Greatest distance from the mean of the period, in standard deviations (n-1), awake and asleep apart."""

    deviations: Decimal = Field(gt=0)


class ReadingLimits(Declared):
    """One rule set. A part left out does not exclude anything."""

    id: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    title: str
    systolic: Range | None = None
    diastolic: Range | None = None
    heart_rate: Range | None = None
    pulse_pressure: Range | None = None
    spread: Spread | None = None
