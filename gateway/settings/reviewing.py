"""The local review rule as settings say it."""

from typing import Annotated, Self

from pydantic import Field, PositiveInt, model_validator

from gateway.mapping.parse import Declared

Pressure = Annotated[int, Field(ge=20, le=300)]


class ReviewChoice(Declared):
    """The local review rule over every measured reading, or who declined to have one, and why."""

    name: str = ""
    systolic_at_or_above: Pressure | None = None
    diastolic_at_or_above: Pressure | None = None
    systolic_below: Pressure | None = None
    diastolic_below: Pressure | None = None
    readings: PositiveInt = 1
    declined_by: str = ""
    declined_why: str = ""

    @property
    def limits(self) -> dict[str, int]:
        """The limits that are set, by name."""
        names = ("systolic_at_or_above", "diastolic_at_or_above", "systolic_below", "diastolic_below")
        return {name: value for name in names if (value := getattr(self, name)) is not None}

    @model_validator(mode="after")
    def _one_or_the_other(self) -> Self:
        if self.declined_by or self.declined_why:
            if self.limits or self.name:
                raise ValueError(
                    "is both set and declined; keep the limits or declined_by and declined_why, not both"
                )
            if not (self.declined_by and self.declined_why):
                raise ValueError("needs both declined_by (a person's name) and declined_why (the reason)")
        elif bool(self.limits) != bool(self.name):
            raise ValueError("needs a name and at least one limit, for example systolic_at_or_above = 180")
        return self
