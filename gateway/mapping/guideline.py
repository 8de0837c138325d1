"""A published guideline as data: limits, windows, adequacy, which mean decides, each number with its standing."""

from datetime import date, time
from decimal import Decimal
from enum import StrEnum
from itertools import pairwise
from typing import Literal, Self

from pydantic import Field, model_validator

from gateway.mapping.parse import Declared
from gateway.model import Flag, PeriodName


class Standing(StrEnum):
    """`verified`: seen in the source named. `secondary`: seen only in a page about it. `memory`: not looked up."""

    VERIFIED = "verified"
    SECONDARY = "secondary"
    MEMORY = "memory"


class Cited(Declared):
    """Anything that needs a source: where it was seen and how sure that is."""

    citation: str = Field(min_length=3)
    standing: Standing


class Grade(Cited):
    """One class of a period: it applies when systolic OR diastolic reaches its lower limit (inclusive, mmHg).

    `systolic` and `diastolic` None: the class below all limits. `words` is what is printed, `flag` N, H or L
    where the guideline itself uses such a word; `deciding` marks the limit against which a value is called
    "at or above" or "below" in the conclusion.
    """

    id: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    words: str
    systolic: Decimal | None = None
    diastolic: Decimal | None = None
    flag: Flag | None = None
    deciding: bool = False


class PeriodLimits(Declared):
    """The classes of one period, lowest first."""

    period: PeriodName
    grades: tuple[Grade, ...] = Field(min_length=2)

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        first, *rest = self.grades
        if first.systolic is not None or first.diastolic is not None:
            raise ValueError("the first grade is the one below all limits: leave systolic and diastolic out")
        for grade in rest:
            if grade.systolic is None or grade.diastolic is None:
                raise ValueError(f"grade '{grade.id}' needs systolic and diastolic")
        for low, high in pairwise(rest):
            if not (low.systolic < high.systolic and low.diastolic <= high.diastolic):  # type: ignore[operator]
                raise ValueError(f"grade '{high.id}' must lie above '{low.id}'")
        if sum(grade.deciding for grade in rest) != 1:
            raise ValueError("exactly one grade above the first carries deciding = true")
        return self


class ClinicLimit(Cited):
    """The clinic pressure that the 2×2 pattern uses (inclusive, mmHg)."""

    systolic: Decimal
    diastolic: Decimal


class Weeks(Cited):
    """Limits for a part of pregnancy only: they hold before this completed week."""

    before: int = Field(ge=1, le=45)


class FixedWindow(Declared):
    """Local clock span [start, end); an end before the start runs past midnight."""

    start: time
    end: time


class FixedWindows(Cited):
    """Windows for a recording without any known sleep. May be narrower than the day."""

    awake: FixedWindow
    asleep: FixedWindow


class AdequacyRule(Cited):
    """When a recording is good enough. A number left out is not asked for.

    `whose` names whose rule it is (a guideline may borrow one). `percent` of scheduled readings that must be
    valid; least valid counts per period; `span` least length in whole hours; `per_waking_hour` least programmed
    readings per waking hour (a sparser programme is a finding, not a failure).
    """

    whose: str
    percent: int | None = Field(default=None, ge=1, le=100)
    awake: int | None = Field(default=None, ge=1)
    asleep: int | None = Field(default=None, ge=1)
    whole: int | None = Field(default=None, ge=1)
    span: int | None = Field(default=None, ge=1, le=48)
    per_waking_hour: int | None = Field(default=None, ge=1)


class LoadLimit(Cited):
    """Limit of the load of one period (mmHg); a reading counts when it is at or above it."""

    period: PeriodName
    systolic: Decimal
    diastolic: Decimal


class Guideline(Declared):
    """One edition of one guideline."""

    id: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    title: str
    short: str
    """for a sentence: "ESC 2024" """
    edition: str
    citation: str
    checked_on: date
    superseded_by: str = ""
    context: Literal["adult", "pregnancy", "child"] = "adult"
    weeks: Weeks | None = None
    lowest_age: int = Field(default=18, ge=0, le=120)
    lowest_age_standing: Standing = Standing.MEMORY
    deciding_mean: Literal["arithmetic", "hourly"] = "hourly"
    """which 24-hour mean is held against the limit and filed"""
    limits: tuple[PeriodLimits, ...] = Field(min_length=1)
    deciding_periods: tuple[PeriodName, ...] = Field(min_length=1)
    """periods whose limits the guideline uses for its ambulatory statement"""
    clinic: ClinicLimit | None = None
    windows: FixedWindows
    adequacy: AdequacyRule
    load: tuple[LoadLimit, ...] = ()
    treatment_note: str = ""
    approved_by: str = ""
    approved_on: date | None = None
    approved_source: str = ""

    @model_validator(mode="after")
    def _whole(self) -> Self:
        have = [limits.period for limits in self.limits]
        if len(set(have)) != len(have):
            raise ValueError("limits: each period stands once")
        if missing := set(self.deciding_periods) - set(have):
            raise ValueError(f"deciding_periods: no limits are given for {', '.join(sorted(missing))}")
        if self.weeks and self.context != "pregnancy":
            raise ValueError("weeks: belong to a guideline of the context pregnancy")
        if self.approved_by and not (self.approved_on and self.approved_source):
            raise ValueError("approved_by needs approved_on and approved_source")
        return self

    def of(self, period: PeriodName) -> PeriodLimits | None:
        """Limits of a period, None where the guideline states none."""
        return next((limits for limits in self.limits if limits.period is period), None)

    @property
    def unverified(self) -> tuple[str, ...]:
        """The deciding numbers whose standing is not `verified`, as "awake at-or-above-limit"; "clinic limit" is the
        one that the clinic pressure is held against.
        """
        of_periods = (
            f"{limits.period} {grade.id}"
            for limits in self.limits
            if limits.period in self.deciding_periods
            for grade in limits.grades
            if grade.deciding and grade.standing is not Standing.VERIFIED
        )
        return (*of_periods, *(["clinic limit"] if self.clinic_unverified else []))

    @property
    def clinic_unverified(self) -> bool:
        """Is there a clinic limit that was not seen at its source?"""
        return self.clinic is not None and self.clinic.standing is not Standing.VERIFIED

    @property
    def needs_approval(self) -> bool:
        """Must the site approve this guideline before it may be used in production?"""
        return bool(self.unverified) and not self.approved_by
