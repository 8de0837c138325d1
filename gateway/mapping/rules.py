"""The rules that one site uses, gathered for the core: guideline, reading limits, review rule, windows."""

from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal

from gateway.mapping.alerts import AlertRule
from gateway.mapping.guideline import FixedWindows, Guideline
from gateway.mapping.limits import ReadingLimits
from gateway.mapping.monitors import MonitorRules


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewRule:
    """The site's local review rule over every measured reading (mmHg, inclusive). A part that is None is off.

    At least `readings` readings must meet it. `name` stands on the result.
    """

    name: str
    systolic_at_or_above: Decimal | None = None
    diastolic_at_or_above: Decimal | None = None
    systolic_below: Decimal | None = None
    diastolic_below: Decimal | None = None
    readings: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonRules:
    """How the person's number is checked. `systems` maps an identifier system (URI) to the python-stdnum module
    that checks it ("gb.nhs"), or "" for no check. `test_numbers`: regular expression per system of published
    test ranges; they are refused when `production` is set.
    """

    systems: dict[str, str] = field(default_factory=dict)
    test_numbers: dict[str, str] = field(default_factory=dict)
    production: bool = False
    birth_date_needed: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatRules:
    """When a second recording of one person is doubtful: within `within` of another (None: never), or, with
    `same_monitor`, on the monitor that delivered this person last.
    """

    within: timedelta | None = timedelta(days=30)
    same_monitor: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeRules:
    """Bounds on the times of a recording."""

    longest: timedelta = timedelta(hours=52)
    future_slack: timedelta = timedelta(minutes=10)
    historical_after: timedelta = timedelta(days=60)
    hold_historical: bool = True
    longest_break: timedelta | None = timedelta(hours=8)
    hold_break: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """Everything that decides how a recording is judged and read, fixed for one run."""

    guideline: Guideline
    limits: ReadingLimits
    review: ReviewRule | None = None
    windows: FixedWindows | None = None
    person: PersonRules = field(default_factory=PersonRules)
    time: TimeRules = field(default_factory=TimeRules)
    repeat: RepeatRules = field(default_factory=RepeatRules)
    monitors: MonitorRules = field(default_factory=MonitorRules)
    lowest_age: int | None = None
    """a site may raise the guideline's lowest age, never lower it"""
    others: tuple[Guideline, ...] = ()
    """for persons whom the guideline is not meant for: children, pregnancy; the first that fits is used"""
    alerts: tuple[AlertRule, ...] = ()
    """the site's own alert rules over the result"""
    first_hour_apart: bool = False
    """readings of the first hour after fitting are listed and count in no mean"""
