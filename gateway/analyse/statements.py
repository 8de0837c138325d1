"""Everything that may be said about the numbers of one recording against limits."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from gateway.analyse.applicability import may_interpret
from gateway.analyse.dipping import dip_statements
from gateway.analyse.interpret import interpret
from gateway.analyse.numbers import Numbers, Pair
from gateway.analyse.patterns import Means, awake_against_asleep, clinic_against_outside, low_pressure
from gateway.analyse.words import on_day
from gateway.mapping.guideline import Guideline
from gateway.model import Adequacy, Circumstances, Interpretation, PeriodName, RuleSet, Verdict
from gateway.validate.adequacy import DIP_READY


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What statements rest on. `short_days` are days with too few hours for a 24-hour mean; `places` names the
    average of each period and day."""

    numbers: Numbers
    adequacy: Adequacy
    guideline: Guideline
    ruled: RuleSet
    circumstances: Circumstances
    days: tuple[int, ...]
    short_days: Mapping[int, int]
    places: Mapping[tuple[PeriodName, int], str]

    @property
    def interpreted(self) -> bool:
        """May anything be said against limits: limits apply to this person, and the recording was good enough?"""
        return self.ruled.interpreted and self.adequacy.verdict is not Verdict.NOT_ADEQUATE

    def dip_ready(self, day: int) -> bool:
        """Enough readings for statements on dip and night, counted and behind the means of that day (which may come
        from narrower windows)."""
        enough = all(self.numbers.count(period, day) >= least for period, least in DIP_READY.items())
        return self.adequacy.dip_ready and enough


def statements(ground: Ground) -> Iterator[Interpretation]:
    """All statements, day by day; none when the recording is not adequate or limits may not be applied."""
    if ground.interpreted:
        for day in ground.days:
            yield from _of_day(ground, day)


def _of_day(ground: Ground, day: int) -> Iterator[Interpretation]:
    named = {name: place for (name, of), place in ground.places.items() if of == day}
    means = {name: found for name in named if (found := _speakable(ground, name, day))}
    for name, found in means.items():
        yield from interpret(name, day, found, ground.guideline, named[name])
    for said in _comparing(ground, means, day):
        yield replace(said, text=on_day(said.text, day, len(ground.days)))
    if ground.guideline.context == "adult":  # a study of adults; pregnancy and childhood have lower pressures
        yield from low_pressure(means, ground.circumstances, named, day)


def _comparing(ground: Ground, means: Means, day: int) -> Iterator[Interpretation]:
    """Statements on a whole day, whose sentences name no period's average and with it no day."""
    if ground.dip_ready(day):
        yield from dip_statements(ground.numbers, day)
    yield from awake_against_asleep(means, ground.guideline, day)
    yield from clinic_against_outside(means, ground.circumstances, ground.guideline, day)


def _speakable(ground: Ground, name: PeriodName, day: int) -> Pair | None:
    """The mean of a period if it may be held against a limit."""
    if name is PeriodName.WHOLE and day in ground.short_days:
        return None
    if name is PeriodName.ASLEEP and not ground.dip_ready(day):
        return None
    return ground.numbers.deciding_pair(name, day) if may_interpret(ground.adequacy, name, day) else None
