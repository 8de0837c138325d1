"""Half-open spans of real time. Everything in here is in UTC, so that plain comparison is right."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta

from gateway.model import Interval


def utc(instant: datetime) -> datetime:
    """The same instant in UTC. Arithmetic on local values goes by the wall clock and is wrong across a change."""
    return instant.astimezone(UTC)


def in_utc(span: Interval) -> Interval:
    """The same span with both ends in UTC."""
    return Interval(utc(span.start), utc(span.end))


def within(instant: datetime, spans: Iterable[Interval]) -> bool:
    """Does the instant (UTC) lie in one of the spans (UTC)?"""
    return any(span.start <= instant < span.end for span in spans)


def merged(spans: Iterable[Interval]) -> tuple[Interval, ...]:
    """Spans in order; those that overlap or touch become one."""
    found: list[Interval] = []
    for span in sorted(spans, key=lambda span: span.start):
        if found and span.start <= found[-1].end:
            found[-1] = Interval(found[-1].start, max(found[-1].end, span.end))
        else:
            found.append(span)
    return tuple(found)


def clipped(spans: Iterable[Interval], frame: Interval) -> tuple[Interval, ...]:
    """The parts of the spans that lie within the frame."""
    return tuple(_overlaps(spans, frame))


def _overlaps(spans: Iterable[Interval], frame: Interval) -> Iterator[Interval]:
    for span in spans:
        start, end = max(span.start, frame.start), min(span.end, frame.end)
        if start < end:
            yield Interval(start, end)


def outside(spans: Sequence[Interval], frame: Interval) -> tuple[Interval, ...]:
    """What the spans (in order, not overlapping) leave of the frame."""
    edges = [frame.start, *(edge for span in clipped(spans, frame) for edge in (span.start, span.end)), frame.end]
    return tuple(Interval(low, high) for low, high in zip(edges[::2], edges[1::2], strict=True) if low < high)


def total(spans: Iterable[Interval]) -> timedelta:
    """Real time that the spans cover together."""
    return sum((span.end - span.start for span in spans), timedelta())
