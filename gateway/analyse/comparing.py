"""A result beside earlier recordings of the same person: change of each mean, in sentences of the closed list.

No test of significance: from one day to another the mean of a person moves by some mmHg by itself, and the class of
the dip repeats poorly (common practice), which is said beside every change of class.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from gateway.analyse.snapshot import snapshot
from gateway.analyse.words import PLACES, Change, pair, say
from gateway.mapping.dipping import DIPPING
from gateway.model import PeriodName, WindowOrigin
from gateway.model.comparison import MeanPair, Snapshot
from gateway.model.phrase import Phrase, joined

_ORDER = (PeriodName.AWAKE, PeriodName.ASLEEP, PeriodName.WHOLE)
_BY_CLOCK = (WindowOrigin.SITE, WindowOrigin.GUIDELINE)
_MOST = 5


def compare(facts: bytes, earlier: Sequence[bytes], deciding_mean: str) -> tuple[str, ...]:
    """Sentences on the change since the latest of the earlier recordings, and the course over up to five of them.

    `facts` and `earlier` are what `preview --json` prints and the store keeps; `earlier` oldest first, delivered and
    not withdrawn. Those that were not good enough are left out; a recording that is not good enough itself is not
    compared. `deciding_mean` names the 24-hour mean that is compared ("arithmetic" or "hourly"), then as now.
    """
    now = snapshot(facts)
    past = [found for each in earlier if (found := snapshot(each)) is not None and found.adequate]
    if now is None or not now.adequate or not past:
        return ()
    last, hourly = past[-1], deciding_mean == "hourly"
    lines = [*_changes(now, last, hourly)]
    if not lines:
        return ()
    return (*lines, *_dip(now, last), *_windows(now, last), *_course(past))


def _changes(now: Snapshot, last: Snapshot, hourly: bool) -> Iterator[str]:
    for period in _ORDER:
        mean, before = _mean(now, period, hourly), _mean(last, period, hourly)
        if mean is None or before is None:
            continue
        yield say(
            Change.MEAN,
            place=PLACES[period],
            value=pair(mean.systolic, mean.diastolic),
            earlier=pair(before.systolic, before.diastolic),
            date=last.on,
            systolic=_moved(mean.systolic - before.systolic),
            diastolic=_moved(mean.diastolic - before.diastolic),
        )


def _mean(of: Snapshot, period: PeriodName, hourly: bool) -> MeanPair | None:
    return of.hourly if hourly and period is PeriodName.WHOLE else of.means.get(period)


def _moved(by: Decimal) -> Phrase:
    if by == 0:
        return Phrase("the same")
    return Phrase("{by} higher" if by > 0 else "{by} lower", by=abs(by))


def _dip(now: Snapshot, last: Snapshot) -> Iterator[str]:
    if now.dip is None or last.dip is None:
        return
    words = {one.id: one.words for one in DIPPING}
    yield say(
        Change.DIP,
        percent=now.dip.percent,
        dip_class=Phrase(words.get(now.dip.dip_class, now.dip.dip_class)),
        earlier=last.dip.percent,
        earlier_class=Phrase(words.get(last.dip.dip_class, last.dip.dip_class)),
        date=last.on,
    )


def _windows(now: Snapshot, last: Snapshot) -> Iterator[str]:
    if now.origin is None or last.origin is None:
        return
    if now.origin is not last.origin and (now.origin in _BY_CLOCK or last.origin in _BY_CLOCK):
        yield say(Change.WINDOWS)


def _course(past: Sequence[Snapshot]) -> Iterator[str]:
    """Earlier awake averages, where there is more than the one that was compared."""
    awake = [(one.on, one.means[PeriodName.AWAKE]) for one in past if PeriodName.AWAKE in one.means][-_MOST:]
    if len(awake) > 1:
        course = joined(
            ", ", (Phrase("{on} {value}", on=on, value=pair(mean.systolic, mean.diastolic)) for on, mean in awake)
        )
        yield say(Change.COURSE, place=PLACES[PeriodName.AWAKE], course=course)
