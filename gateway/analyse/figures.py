"""Every statistic of one recording, period by period and day by day."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from gateway.analyse.averages import averages, loads
from gateway.analyse.columns import Cells, Columns, Seconds, cells, columns, inside, instant
from gateway.analyse.dipping import dips
from gateway.analyse.numbers import Numbers
from gateway.analyse.rhythm import rhythm
from gateway.analyse.stating import Place
from gateway.analyse.stiffness import stiffness
from gateway.analyse.surge import first_hour, surges
from gateway.analyse.tally import Tally, tallies
from gateway.analyse.variability import variability, weighted
from gateway.mapping.guideline import Guideline
from gateway.model import Adequacy, Interval, Judged, Period, PeriodName, Recording, Statistic, Use, Windows
from gateway.validate.first_hour import FIRST_HOUR

Spot = tuple[PeriodName, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A recording cut into its periods, with the sums of each. `tally` is in the order of the windows' periods.

    `early` are the readings of the first hour where the site keeps it apart, else those of the whole table.
    """

    table: Columns
    early: Columns
    cells: Cells
    windows: Windows
    tally: Mapping[Spot, Tally]

    @property
    def days(self) -> tuple[int, ...]:
        """Days of the recording, 1 for the first 24 hours."""
        return tuple(sorted({period.day for period in self.windows.periods}))

    def period(self, name: PeriodName, day: int) -> Period | None:
        """One period of one day."""
        return next((p for p in self.windows.periods if p.name is name and p.day == day), None)

    def hours_read(self, day: int) -> int:
        """Hours of a day that hold a valid reading."""
        found = self.tally.get((PeriodName.WHOLE, day))
        return found.systolic_hourly.hours if found else 0


def cut(judged: tuple[Judged, ...], windows: Windows) -> Cut:
    """Valid readings by period, summed."""
    table = columns(judged)
    parts = cells(table, windows.periods)
    spots = ((period.name, period.day) for period in windows.periods)
    return Cut(
        table=table,
        early=early(judged, table),
        cells=parts,
        windows=windows,
        tally=dict(zip(spots, tallies(parts), strict=True)),
    )


def early(judged: Sequence[Judged], table: Columns) -> Columns:
    """The readings among which those of the first hour lie: apart, where the site keeps them so."""
    apart = [replace(one, use=Use.VALID) for one in judged if one.rule == FIRST_HOUR]
    return columns(apart) if apart else table


def figures(
    recording: Recording, whole: Cut, adequacy: Adequacy, guideline: Guideline, limited: bool, irregular: bool
) -> Numbers:
    """All statistics. `limited`: limits may be applied (load); `irregular`: no variability, stiffness and double
    product."""
    found = [
        *_of_periods(whole, guideline, limited, irregular),
        *first_hour(whole.early, instant(recording.fitted or recording.began)),
        *_curves(whole, irregular),
    ]
    for day in whole.days:
        found.extend(_of_day(whole, day, irregular))
    means = Numbers.of(found, guideline.deciding_mean)
    for day in whole.days:
        found.extend(dips(means, adequacy, day))
    return Numbers.of(found, guideline.deciding_mean)


def _of_periods(whole: Cut, guideline: Guideline, limited: bool, irregular: bool) -> Iterator[Statistic]:
    for (name, day), found in whole.tally.items():
        place = Place(name, day)
        yield from averages(found, place)
        yield from variability(found, place, irregular)
    yield from loads(whole.cells, tuple(whole.tally), guideline, limited)


def _curves(whole: Cut, irregular: bool) -> Iterator[Statistic]:
    """Stiffness and rhythm rest on all readings of a day."""
    spots = [spot for spot, period in enumerate(whole.windows.periods) if period.name is PeriodName.WHOLE]
    days = [whole.windows.periods[spot] for spot in spots]
    for period in days:
        yield from stiffness(whole.tally[period.name, period.day].line, period.day, irregular)
    begun = [min(span.start for span in period.means) for period in days]
    yield from rhythm(whole.cells.only(spots), begun, [period.day for period in days])


def _of_day(whole: Cut, day: int, irregular: bool) -> Iterator[Statistic]:
    """Surge and weighted SD need awake and asleep of one day."""
    waking, spans = main_sleep(whole.windows, day)
    yield from surges(whole.table, inside(whole.table, spans) if spans else None, waking, day)
    by_day, by_night = whole.tally.get((PeriodName.AWAKE, day)), whole.tally.get((PeriodName.ASLEEP, day))
    if by_day and by_night:
        hours = hours_of(whole.windows, PeriodName.AWAKE, day), hours_of(whole.windows, PeriodName.ASLEEP, day)
        yield from weighted(by_day, by_night, hours, day, irregular)


def main_sleep(windows: Windows, day: int) -> tuple[Seconds | None, tuple[Interval, ...]]:
    """Waking from the longest sleep of the day, if it is known, and the spans of that sleep; never of a nap."""
    sleep = next((p for p in windows.periods if p.name is PeriodName.ASLEEP and p.day == day), None)
    known = {instant(moment) for moment in windows.waking}
    sleeps = _sleeps(sleep.means, known) if sleep else ()
    longest = max(sleeps, key=lambda spans: sum(span.length.total_seconds() for span in spans), default=())
    if not longest or instant(longest[-1].end) not in known:
        return None, ()
    return instant(longest[-1].end), longest


def _sleeps(spans: Sequence[Interval], waking: Collection[Seconds]) -> Iterator[tuple[Interval, ...]]:
    """Spans joined to whole sleeps: one that ends in no waking was interrupted and goes on in the next."""
    joined: tuple[Interval, ...] = ()
    for span in sorted(spans, key=lambda span: instant(span.start)):
        joined = (*joined, span)
        if instant(span.end) in waking:
            yield joined
            joined = ()
    if joined:
        yield joined


def hours_of(windows: Windows, name: PeriodName, day: int) -> float:
    """Real hours of a period over the full awake/asleep partition, 0 where there is none."""
    period = next((p for p in windows.periods if p.name is name and p.day == day), None)
    return sum(span.length.total_seconds() for span in period.whole) / 3600 if period else 0.0
