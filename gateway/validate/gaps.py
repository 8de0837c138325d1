"""Stretches of 2 hours and more without a valid reading."""

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from gateway.model import Interval
from gateway.periods import Clock

LEAST = timedelta(hours=2)


def gaps(valid: Sequence[datetime], spans: Sequence[Interval], clock: Clock) -> Iterator[Interval]:
    """Stretches of real time within the spans, from start or last valid reading to the next one or the end.

    Everything given is in UTC and `valid` in order; the ends of a gap carry the local offset.
    """
    for span in spans:
        inside = (at for at in valid if span.start <= at < span.end)
        for low, high in pairwise([span.start, *inside, span.end]):
            if high - low >= LEAST:
                yield clock.of(Interval(low, high))
