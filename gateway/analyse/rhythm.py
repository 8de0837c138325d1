"""One cosine of 24 hours through the readings of a day (single cosinor, Nelson 1979).

y = M + β·cos ωt + γ·sin ωt by least squares; amplitude √(β² + γ²), peak at atan2(γ, β)/ω. F = ((TSS − RSS)/2) /
(RSS/(n − 3)) with 2 and n − 3 degrees of freedom; p is the UPPER TAIL of F, which for 2 degrees of freedom above
is exactly (RSS/TSS)^((n − 3)/2), so no statistics library is needed.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from gateway.analyse.columns import Ints
from gateway.analyse.stating import Place, state
from gateway.analyse.words import Because
from gateway.mapping.studies import NEEDS
from gateway.model import Statistic, StatisticName, rounded

Floats = NDArray[np.float64]
_TURN = 24.0
_LEAST_P = Decimal("0.000001")
_FLAT = 1e-9  # mmHg; an amplitude below this is rounding noise


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
    n = len(values)
    if n < 4:
        return None
    angle = hours * (2 * np.pi / _TURN)
    design = np.column_stack((np.ones(n), np.cos(angle), np.sin(angle)))
    solution, _, rank, _ = np.linalg.lstsq(design, values, rcond=1e-9)
    if rank < 3:
        return None
    mesor, cosine, sine = solution.tolist()
    left = values - design @ solution
    residual, total = float(left @ left), float(((values - values.mean()) ** 2).sum())
    amplitude = float(np.hypot(cosine, sine))
    peak = float(np.arctan2(sine, cosine)) * _TURN / (2 * np.pi) % _TURN
    if amplitude < _FLAT or residual <= _FLAT**2 * n:
        return Rhythm(mesor, amplitude, peak, None, None)
    f = ((total - residual) / 2) / (residual / (n - 3))
    return Rhythm(mesor, amplitude, peak, f, upper_tail(f, n - 3))


def upper_tail(f: float, below: int) -> float:
    """Upper tail of the F distribution with 2 and `below` degrees of freedom: (1 + 2F/m)^(−m/2)."""
    return float((1 + 2 * f / below) ** (-below / 2))


def rhythm(seconds: Ints, systolic: Ints, diastolic: Ints, began: datetime, day: int) -> Iterator[Statistic]:
    """Mesor, amplitude, peak time, F and p of one day's readings (tenths, seconds since 1970).

    Time is real elapsed time counted from `began`, whose local clock gives the peak its time of day; across a
    clock change the peak therefore keeps the clock of the start.
    """
    hours = (seconds - round(began.timestamp())) / 3600 + _clock(began)
    enough = len(seconds) >= NEEDS.rhythm_readings and np.ptp(hours) >= NEEDS.rhythm_span
    for quantity, values in (("systolic", systolic), ("diastolic", diastolic)):
        found = cosinor(hours, values / 10) if enough else None
        missing = Because.NO_RHYTHM if enough else Because.FEW_FOR_RHYTHM
        yield from _stated(quantity, found, missing, len(seconds), Place(None, day))


def _clock(moment: datetime) -> float:
    return moment.hour + moment.minute / 60 + moment.second / 3600


def _stated(quantity: str, found: Rhythm | None, missing: Because, count: int, place: Place) -> Iterator[Statistic]:
    flat = found is None or found.amplitude < _FLAT
    values: dict[str, Decimal | Because] = {
        "mesor": missing if found is None else rounded(found.mesor),
        "amplitude": missing if found is None else rounded(found.amplitude),
        "peak-time": missing if found is None or flat else rounded(found.peak, 2) % 24,
        "rhythm-f": missing if found is None or found.f is None else rounded(found.f, 2),
        "rhythm-p": missing if found is None or found.p is None else max(rounded(found.p, 6), _LEAST_P),
    }
    for word, value in values.items():
        yield state(StatisticName(f"{quantity}-{word}"), place, count, value)
