"""One cosine of 24 hours through the readings of each cell (single cosinor, Nelson 1979), for many cells at once.

y = M + β·cos ωt + γ·sin ωt by least squares, solved in closed form from sums about the means of the cell. Each sum
sees one cell only and the rest is element by element, so that one recording and many give the same bits.
F = ((TSS − RSS)/2) / (RSS/(n − 3)) with 2 and n − 3 degrees of freedom; p is the UPPER TAIL of F, which for 2 degrees
of freedom above is exactly (RSS/TSS)^((n − 3)/2), so no statistics library is needed.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gateway.analyse.columns import Flags, Ints

Floats = NDArray[np.float64]
TURN = 24.0
FLAT = 1e-9  # mmHg; an amplitude below this is rounding noise
_SAME_PHASE = 1e-9  # share of the largest possible determinant below which the times do not determine a curve
_LEAST_READINGS = 4


@dataclass(frozen=True, slots=True)
class Curves:
    """Unrounded, shape (cells,) each: mesor and amplitude in the unit of y, `peak` in hours of the scale of t,
    0 <= peak < 24.

    Where `determined` is False nothing means anything: fewer than four readings, or all at the same few phases.
    Where `tested` is False `f` and `p` mean nothing: nothing is left over (a perfect fit) or nothing is explained.
    """

    mesor: Floats
    amplitude: Floats
    peak: Floats
    f: Floats
    p: Floats
    determined: Flags
    tested: Flags


def curves(hours: Floats, values: Floats, starts: Ints) -> Curves:
    """Fit one curve per cell. Shapes (readings,), `starts` (cells + 1,); hours in any steps."""
    count = np.diff(starts)
    angle = hours * (2 * np.pi / TURN)
    cosine, sine = np.cos(angle), np.sin(angle)
    (c, mean_c), (s, mean_s), (y, mean_y) = (_centred(part, starts) for part in (cosine, sine, values))
    cc, ss, cs = _sums(c * c, starts), _sums(s * s, starts), _sums(c * s, starts)
    determinant = cc * ss - cs * cs
    determined = (count >= _LEAST_READINGS) & (determinant > _SAME_PHASE * count * count)
    safe = np.where(determined, determinant, 1.0)
    yc, ys = _sums(y * c, starts), _sums(y * s, starts)
    beta, gamma = (yc * ss - ys * cs) / safe, (ys * cc - yc * cs) / safe
    left = y - np.repeat(beta, count) * c - np.repeat(gamma, count) * s
    residual, total = _sums(left * left, starts), _sums(y * y, starts)
    amplitude = np.hypot(beta, gamma)
    tested = determined & (amplitude >= FLAT) & (residual > FLAT**2 * count)
    below = np.where(tested, count - 3, 1)
    f = ((total - residual) / 2) / (np.where(tested, residual, 1.0) / below)
    return Curves(
        mesor=mean_y - beta * mean_c - gamma * mean_s,
        amplitude=amplitude,
        peak=np.arctan2(gamma, beta) * TURN / (2 * np.pi) % TURN,
        f=f,
        p=upper_tail(np.where(tested, f, 0.0), below),
        determined=determined,
        tested=tested,
    )


def upper_tail(f: Floats, below: Ints) -> Floats:
    """Upper tail of the F distribution with 2 and `below` degrees of freedom: (1 + 2F/m)^(−m/2)."""
    return np.asarray((1 + 2 * f / below) ** (-below / 2), dtype=np.float64)


def _centred(values: Floats, starts: Ints) -> tuple[Floats, Floats]:
    """Values less the mean of their cell, and those means (0 in an empty cell)."""
    count = np.diff(starts)
    means = _sums(values, starts) / np.maximum(count, 1)
    return values - np.repeat(means, count), means


def _sums(values: Floats, starts: Ints) -> Floats:
    """Sum of each cell, 0 for an empty one. Each is added up apart: in a running sum the cells before it would
    leave their rounding in it."""
    found = np.zeros(len(starts) - 1, dtype=np.float64)
    filled = np.diff(starts) > 0
    if filled.any():
        found[filled] = np.add.reduceat(values[: starts[-1]], starts[:-1][filled])
    return found
