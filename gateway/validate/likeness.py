"""The fingerprint of a recording: its values in their order, without the person and without the time.

A window is four measured pressures in a row. That two people share one window by chance is about one in 10^12
(common spreads of 12 and 9 mmHg with correlation 0.6: about 0.001 for one pair of pressures, to the fourth power), so
that half of all windows in common means one and the same measurement. A row that was left out or changed touches
at most four windows; a file cut in half keeps all its own.
"""

from collections.abc import Iterable, Sequence
from hashlib import sha256
from hmac import digest

from gateway.model import Outcome, Reading, Recording

_RUN = 4
_FEWEST_DIFFERENT = 3
"""different pressures that a window needs to tell anything: flat stretches come from simulators"""
INDEXED = 16
"""marks by which a store finds likely copies; half a recording shares at least one with the whole in 65535 of 65536
cases, as each of the sixteen lies in the shared half with probability one half"""


def marks_of(recording: Recording, key: bytes) -> tuple[int, ...]:
    """Rising 63-bit marks, one for each window of values; empty where fewer than four pressures were measured.

    `key` keeps the marks from telling values to anybody who has only them.
    """
    pairs = [(reading.systolic, reading.diastolic) for reading in _in_time(recording.readings)]
    windows = (pairs[start : start + _RUN] for start in range(len(pairs) - _RUN + 1))
    telling = (window for window in windows if len(set(window)) >= _FEWEST_DIFFERENT)
    return tuple(sorted({_mark(window, key) for window in telling}))


def alike(ours: Sequence[int], theirs: Iterable[int]) -> bool:
    """Do at least half of the windows of the shorter one coincide?"""
    mine, others = set(ours), set(theirs)
    shorter = min(len(mine), len(others))
    return shorter > 0 and 2 * len(mine & others) >= shorter


def _in_time(readings: Iterable[Reading]) -> list[Reading]:
    whole = [
        reading
        for reading in readings
        if reading.outcome is Outcome.MEASURED and None not in (reading.systolic, reading.diastolic)
    ]
    return sorted(whole, key=lambda reading: reading.at.timestamp())


def _mark(window: object, key: bytes) -> int:
    return int.from_bytes(digest(key, f"window {window}".encode(), sha256)[:8]) >> 1
