"""Was the recording good enough? Counts per period over the full awake/asleep partition, against a named rule."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from gateway.mapping.guideline import AdequacyRule
from gateway.model import (
    Adequacy,
    Interval,
    Judged,
    Period,
    PeriodCount,
    PeriodName,
    Recording,
    Use,
    Verdict,
    WindowOrigin,
    Windows,
    reported,
)
from gateway.model.phrase import Phrase
from gateway.periods import COUNTED, Clock, clock_of, in_utc, utc, within
from gateway.validate.first_hour import FIRST_HOUR
from gateway.validate.gaps import gaps
from gateway.validate.programme import Programme, spaced
from gateway.validate.requirements import Measured, Unmet, missing_period, unmet

FILED = {PeriodName.AWAKE: 8, PeriodName.ASLEEP: 4, PeriodName.WHOLE: 12}
"""fewest valid readings of a mean that is filed: 8 awake and 4 asleep (Yang 2019, IDACO, the least for research), and
as many together for the whole"""
DIP_READY = {PeriodName.AWAKE: 20, PeriodName.ASLEEP: 7}
"""for statements on dip and night (20 by day and 7 by night: Hypertension Canada 2017)"""

BY_CLOCK = (WindowOrigin.SITE, WindowOrigin.GUIDELINE)


@dataclass(frozen=True, slots=True)
class _Counted:
    """Attempts that count, readings due (None: unknown), slots in which the monitor inflated (only where the hours of
    the programme are a guess) slots that hold a valid reading, and readings that
    leave no gap; instants in UTC."""

    attempts: tuple[tuple[datetime, Use], ...]
    due: tuple[datetime, ...] | None
    tried: tuple[datetime, ...]
    valid: tuple[datetime, ...]
    heard: tuple[datetime, ...]


def assess(
    recording: Recording,
    judged: Sequence[Judged],
    windows: Windows,
    plan: Programme,
    rule: AdequacyRule,
    apart: Interval | None = None,
) -> Adequacy:
    """Verdict, reasons and counts of every period.

    scheduled: readings due by the programme; valid: slots with a valid reading, where a repeat fills its slot;
    100·valid >= percent·scheduled, in whole numbers. `apart` (UTC) is kept out of all counts: nothing was due in it.
    """
    counted, clock = _counted(judged, plan, windows, apart), clock_of(recording)
    counts, lacking = [], list[Unmet]()
    for period in windows.periods:
        count = _count(period, counted, clock)
        lacks = unmet(rule, Measured(count=count, plan=plan, recording=recording))
        lacking += lacks
        counts.append(replace(count, adequate=all(lack.unproven for lack in lacks)))
    lacking += _missing(rule, windows)
    return Adequacy(
        verdict=_verdict(lacking),
        rule=Phrase(rule.whose),
        schedule=plan.origin,
        reasons=tuple(_sentences(lacking, days=max(period.day for period in windows.periods))),
        counts=tuple(counts),
        dip_ready=_dip_ready(counts),
    )


def _counted(judged: Sequence[Judged], plan: Programme, windows: Windows, apart: Interval | None) -> _Counted:
    programmed = [(utc(v.reading.at), v) for v in judged if v.reading.kind in COUNTED]
    attempts = [(at, v.use) for at, v in programmed if apart is None or at not in apart]
    good = sorted(at for at, use in attempts if use is Use.VALID)
    due, first = plan.due(), utc(windows.periods[0].whole[0].start)
    return _Counted(
        attempts=tuple(attempts),
        # what was due between fitting and the first attempt counts with the first moment
        due=None if due is None else tuple(max(at, first) for at in due if apart is None or at not in apart),
        tried=tuple(spaced(sorted(at for at, _ in attempts), plan.apart)) if _guessed(plan, windows) else (),
        valid=tuple(spaced(good, plan.apart)),
        heard=tuple(sorted(at for at, v in programmed if v.use is Use.VALID or v.rule == FIRST_HOUR)),
    )


def _count(period: Period, counted: _Counted, clock: Clock) -> PeriodCount:
    whole, means = ([in_utc(span) for span in spans] for spans in (period.whole, period.means))
    attempts = [(at, use) for at, use in counted.attempts if within(at, whole)]
    uses = [use for _, use in attempts]
    valid = sum(within(at, whole) for at in counted.valid)
    scheduled = None if counted.due is None else _scheduled(counted, whole)
    return PeriodCount(
        period=period.name,
        day=period.day,
        scheduled=scheduled,
        attempted=len(attempts),
        valid=valid,
        excluded=uses.count(Use.EXCLUDED),
        failed=uses.count(Use.FAILED),
        percent=reported(100 * valid, scheduled) if scheduled else None,
        gaps=tuple(gaps(counted.heard, whole, clock)),
        # a mean may rest on less than was counted, where its windows are narrower than the day
        filed=sum(within(at, means) for at in counted.valid) >= FILED[period.name],
        adequate=False,
    )


def _scheduled(counted: _Counted, spans: Sequence[Interval]) -> int:
    """Readings due within the spans, and never fewer than were valid: no share passes 100 %. Where the hours of the
    programme are a guess, whatever the monitor tried was due, or a day of failures could look like a whole one.
    """
    slots = (counted.due or (), counted.tried, counted.valid)
    return max(sum(within(at, spans) for at in each) for each in slots)


def _guessed(plan: Programme, windows: Windows) -> bool:
    """Are the hours of the night interval those of fixed clock windows, which the monitor knows nothing of?"""
    by_clock = any(windows.origin_of(period.day) in BY_CLOCK for period in windows.periods)
    return by_clock and plan.day != plan.night and not plan.by_clock


def _missing(rule: AdequacyRule, windows: Windows) -> Iterator[Unmet]:
    have = {(period.name, period.day) for period in windows.periods}
    for day in sorted({period.day for period in windows.periods}):
        for name in (PeriodName.AWAKE, PeriodName.ASLEEP):
            if (name, day) not in have:
                yield from missing_period(rule, name, day)


def _verdict(lacking: Sequence[Unmet]) -> Verdict:
    if not lacking:
        return Verdict.ADEQUATE
    return Verdict.NOT_PROVEN if all(lack.unproven for lack in lacking) else Verdict.NOT_ADEQUATE


def _sentences(lacking: Sequence[Unmet], days: int) -> Iterator[str]:
    for lack in lacking:
        yield Phrase("Day {day}: {text}", day=lack.day, text=lack.sentence) if days > 1 else lack.sentence


def _dip_ready(counts: Sequence[PeriodCount]) -> bool:
    """Every day has enough valid readings awake and asleep."""
    enough = {(c.period, c.day) for c in counts if c.period in DIP_READY and c.valid >= DIP_READY[c.period]}
    return all((name, c.day) in enough for c in counts for name in DIP_READY)
