"""The daily curve of one recording: mesor, amplitude, time of the peak, and how far it explains the readings.

`curves` fits it (single cosinor, Nelson 1979); here stands what a fit needs before it is stated, and its clock.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

import numpy as np

from gateway.analyse.columns import Cells, Flags, Ints, instant
from gateway.analyse.curves import FLAT, Curves, Floats, curves
from gateway.analyse.stating import Place, state
from gateway.analyse.words import Because
from gateway.mapping.studies import NEEDS
from gateway.model import Statistic, StatisticName, rounded

_LEAST_P = Decimal("0.000001")
_HOUR = 3600


@dataclass(frozen=True, slots=True)
class Rhythm:
    """Unrounded: mesor and amplitude in the unit of y, `peak` in hours of the scale of t, 0 <= peak < 24.

    `f` and `p` are None where nothing is left over (a perfect fit) or nothing is explained.
    """

    mesor: float
    amplitude: float
    peak: float
    f: float | None
    p: float | None


def cosinor(hours: Floats, values: Floats) -> Rhythm | None:
    """Fit one curve. Shapes (readings,), hours in any steps. None when the times do not determine it (fewer than
    four readings, or all at the same few phases)."""
    (found,) = each(curves(hours, values, np.array([0, len(values)], dtype=np.int64)))
    return found


def each(found: Curves) -> Iterator[Rhythm | None]:
    """The curves one by one."""
    for cell in range(len(found.mesor)):
        tested = bool(found.tested[cell])
        one = Rhythm(
            mesor=float(found.mesor[cell]),
            amplitude=float(found.amplitude[cell]),
            peak=float(found.peak[cell]),
            f=float(found.f[cell]) if tested else None,
            p=float(found.p[cell]) if tested else None,
        )
        yield one if found.determined[cell] else None


def enough(seconds: Ints, starts: Ints) -> Flags:
    """Which cells hold enough readings (in order of time) over enough hours for a curve; shape (cells,)."""
    count = np.diff(starts)
    found = count >= NEEDS.rhythm_readings
    first, last = starts[:-1][found], starts[1:][found] - 1
    found[found] = seconds[last] - seconds[first] >= NEEDS.rhythm_span * _HOUR
    return np.asarray(found, dtype=np.bool_)


def rhythms(cells: Cells, began: Ints, clock: Floats) -> dict[str, Curves]:
    """Curves of systolic and diastolic pressure (mmHg) of every cell; `determined` holds only where `enough` does.

    Time is real elapsed time from `began` (seconds since 1970), whose local time of day is `clock` (hours); shape of
    both: (cells,). Across a clock change the peak therefore keeps the clock of the start.
    """
    table, starts, count = cells.columns, cells.starts, np.diff(cells.starts)
    hours = (table.seconds - np.repeat(began, count)) / _HOUR + np.repeat(clock, count)
    may = enough(table.seconds, starts)
    parts = {"systolic": table.systolic / 10, "diastolic": table.diastolic / 10}
    found = {quantity: curves(hours, values, starts) for quantity, values in parts.items()}
    return {quantity: replace(one, determined=one.determined & may) for quantity, one in found.items()}


def clock_of(moment: datetime) -> float:
    """Local time of day in hours."""
    return moment.hour + moment.minute / 60 + moment.second / _HOUR


def rhythm(cells: Cells, begun: Sequence[datetime], days: Sequence[int]) -> Iterator[Statistic]:
    """Mesor, amplitude, peak time, F and p of every cell; one cell is one day, begun on the patient's clock."""
    began = np.array([instant(moment) for moment in begun], dtype=np.int64)
    found = rhythms(cells, began, np.array([clock_of(moment) for moment in begun]))
    counts, enoughs = np.diff(cells.starts).tolist(), enough(cells.columns.seconds, cells.starts).tolist()
    for quantity, fitted in found.items():
        for one, day, count, may in zip(each(fitted), days, counts, enoughs, strict=True):
            missing = Because.NO_RHYTHM if may else Because.FEW_FOR_RHYTHM
            yield from _stated(quantity, one, missing, count, Place(None, day))


def _stated(quantity: str, found: Rhythm | None, missing: Because, count: int, place: Place) -> Iterator[Statistic]:
    flat = found is None or found.amplitude < FLAT
    values: dict[str, Decimal | Because] = {
        "mesor": missing if found is None else rounded(found.mesor),
        "amplitude": missing if found is None else rounded(found.amplitude),
        "peak-time": missing if found is None or flat else rounded(found.peak, 2) % 24,
        "rhythm-f": missing if found is None or found.f is None else rounded(found.f, 2),
        "rhythm-p": missing if found is None or found.p is None else max(rounded(found.p, 6), _LEAST_P),
    }
    for word, value in values.items():
        yield state(StatisticName(f"{quantity}-{word}"), place, count, value)
