"""A published guideline as data: limits, windows, adequacy, which mean decides, each number with its standing."""

from datetime import date, time
from decimal import Decimal
from itertools import pairwise
from typing import Literal, Self

from pydantic import Field, model_validator

from gateway.mapping.cited import Cited as Cited
from gateway.mapping.cited import Standing as Standing
from gateway.mapping.parse import Declared
from gateway.model import Flag, PeriodName
from gateway.model.phrase import Phrase

STALE_AFTER = 2
"""years after which numbers want to be compared with their sources again; common practice of this project"""


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
    highest_age: int | None = Field(default=None, ge=0, le=120)
    """last age in whole years to which the limits apply; None: no upper end. A guideline for children needs one"""
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
        if self.context == "child" and self.highest_age is None:
            raise ValueError("highest_age: a guideline for children needs the last age that it is meant for")
        if self.highest_age is not None and self.highest_age < self.lowest_age:
            raise ValueError("highest_age: lies below lowest_age")
        if self.approved_by and not (self.approved_on and self.approved_source):
            raise ValueError("approved_by needs approved_on and approved_source")
        return self

    def of(self, period: PeriodName) -> PeriodLimits | None:
        """Limits of a period, None where the guideline states none."""
        return next((limits for limits in self.limits if limits.period is period), None)

    def aged(self, today: date) -> tuple[Phrase, ...]:
        """What speaks against this edition today: a newer one, or numbers that nobody compared for long."""
        found = []
        if self.superseded_by:
            found.append(Phrase("{name} is superseded by {newer}.", name=self.short, newer=self.superseded_by))
        if (today.year - self.checked_on.year) - ((today.month, today.day) < _day(self.checked_on)) >= STALE_AFTER:
            text = "The limits of {name} were last compared with their sources on {day}; look for a newer edition."
            found.append(Phrase(text, name=self.short, day=self.checked_on))
        return tuple(found)

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


def _day(on: date) -> tuple[int, int]:
    return on.month, on.day
