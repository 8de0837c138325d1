"""One recording's result as far as another recording of the same person is compared with it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from gateway.model.period import PeriodName, WindowOrigin


@dataclass(frozen=True, slots=True)
class MeanPair:
    """Reported systolic and diastolic mean of one period (mmHg)."""

    systolic: Decimal
    diastolic: Decimal


@dataclass(frozen=True, slots=True)
class Dip:
    """Systolic dip as reported (per cent) and the id of its class."""

    percent: Decimal
    dip_class: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """The first day of one recording.

    `on` is the local date on which it began. `adequate`: good enough by the rule of its time. `means` holds only
    periods with enough valid readings, `hourly` is the mean of hourly means of the 24 hours beside the arithmetic
    one in `means`. `origin` None: not stated.
    """

    on: date
    adequate: bool
    origin: WindowOrigin | None
    means: Mapping[PeriodName, MeanPair]
    hourly: MeanPair | None
    dip: Dip | None
