"""Was the recording good enough, by whose rule, and on which counts."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from gateway.model.period import Interval, PeriodName


class Verdict(StrEnum):
    """`not-proven`: the schedule is unknown, so the share of valid readings cannot be stated."""

    ADEQUATE = "adequate"
    NOT_ADEQUATE = "not-adequate"
    NOT_PROVEN = "not-proven"


class ScheduleOrigin(StrEnum):
    """How the number of scheduled readings became known."""

    GIVEN = "given"
    INFERRED = "inferred"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class PeriodCount:
    """Readings of one period, counted over the full awake/asleep partition.

    `scheduled` None: not known. `attempted` counts every attempt including repeats, `valid` the scheduled slots
    that hold a valid reading (a repeat fills its slot). `percent` is 100·valid/scheduled, one decimal.
    `filed`: enough valid readings behind the period's mean that it may be filed at all (8 awake, 4 asleep;
    otherwise it is only shown); the one count over the windows of the mean, which may be narrower.
    `adequate`: the period meets its own part of the rule.
    """

    period: PeriodName
    day: int
    scheduled: int | None
    attempted: int
    valid: int
    excluded: int
    failed: int
    percent: Decimal | None
    gaps: tuple[Interval, ...]
    filed: bool
    adequate: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Adequacy:
    """The verdict and everything it rests on.

    `rule` names whose rule was used (a guideline may have none of its own). `reasons` are plain sentences, one
    per part of the rule that is not met, empty when adequate. `dip_ready`: 20 awake and 7 asleep valid readings,
    the least for statements on dip and night.
    """

    verdict: Verdict
    rule: str
    schedule: ScheduleOrigin
    reasons: tuple[str, ...]
    counts: tuple[PeriodCount, ...]
    dip_ready: bool

    def count(self, period: PeriodName, day: int = 1) -> PeriodCount | None:
        """Counts of one period, None where the recording has no such period."""
        return next((c for c in self.counts if c.period is period and c.day == day), None)
