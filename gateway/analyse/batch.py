"""Many recordings laid out for `cohort`, `rhythm.rhythms` and `whole_days`: one row for the first day of each.

many = gathered([(recording, examined), …])
cohort(many.days)
weighted_sds(many.awake, many.asleep, many.hours_awake, many.hours_asleep)
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from gateway.analyse.columns import Cells, Columns, Flags, Ints, cells, columns, instant, joined
from gateway.analyse.figures import early, hours_of, main_sleep
from gateway.analyse.whole_days import Floats
from gateway.model import Examined, Interval, Period, PeriodName, Recording, Windows


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Cells of the first day of each recording, in the order given; shape (recordings,) of all the rest.

    `sleep`: readings of the main sleep, from which `waking` (seconds since 1970, where `known`) ended it. `early`:
    all readings among which those of the first hour after `began` lie. `hours_…`: real hours of the partition.
    """

    days: Cells
    awake: Cells
    asleep: Cells
    sleep: Cells
    early: Cells
    hours_awake: Floats
    hours_asleep: Floats
    waking: Ints
    known: Flags
    began: Ints


def gathered(recordings: Sequence[tuple[Recording, Examined]]) -> Batch:
    """Lay out at least one recording. Raises ValueError where the windows of one were never found."""
    found = [_Laid(*pair) for pair in recordings]
    return Batch(
        days=joined([one.of(PeriodName.WHOLE) for one in found]),
        awake=joined([one.of(PeriodName.AWAKE) for one in found]),
        asleep=joined([one.of(PeriodName.ASLEEP) for one in found]),
        sleep=joined([one.between(one.sleep) for one in found]),
        early=joined([_uncut(early(one.examined.judged, one.table)) for one in found]),
        hours_awake=np.array([hours_of(one.windows, PeriodName.AWAKE, 1) for one in found]),
        hours_asleep=np.array([hours_of(one.windows, PeriodName.ASLEEP, 1) for one in found]),
        waking=np.array([one.waking or 0 for one in found], dtype=np.int64),
        known=np.array([one.waking is not None for one in found], dtype=np.bool_),
        began=np.array([instant(one.recording.fitted or one.recording.began) for one in found], dtype=np.int64),
    )


class _Laid:
    """One recording on its way into the batch."""

    def __init__(self, recording: Recording, examined: Examined) -> None:
        if examined.windows is None:
            raise ValueError("a recording without windows has no days")
        self.recording, self.examined = recording, examined
        self.windows: Windows = examined.windows
        self.table = columns(examined.judged)
        self.waking, self.sleep = main_sleep(self.windows, 1)

    def of(self, name: PeriodName) -> Cells:
        """The cell of a period, empty where there is none."""
        return self.between(tuple(_means(self.windows, name)))

    def between(self, spans: tuple[Interval, ...]) -> Cells:
        """One cell of the readings within the spans."""
        return cells(self.table, [Period(name=PeriodName.WHOLE, day=1, means=spans, whole=spans)])


def _means(windows: Windows, name: PeriodName) -> Iterator[Interval]:
    for period in windows.periods:
        if period.name is name and period.day == 1:
            yield from period.means


def _uncut(table: Columns) -> Cells:
    """All readings as one cell; nothing is asked of its stretches and hours."""
    size = len(table.seconds)
    zeros = np.zeros(size, dtype=np.int64)
    return Cells(table, np.array([0, size], dtype=np.int64), zeros, zeros)
