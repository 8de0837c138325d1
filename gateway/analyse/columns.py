"""Readings as columns of whole numbers, cut into cells: one cell is one period of one day.

One recording is a batch of one: `joined` puts the cells of many recordings behind each other, and every kernel
works cell by cell, so that single and batched results are the same to the last bit.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import NewType

import numpy as np
from numpy.typing import NDArray

from gateway.model import Interval, Judged, Period, Use

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Seconds = NewType("Seconds", int)

_ABSENT = -1  # never a measured value; `has_…` masks it before any arithmetic


def instant(moment: datetime) -> Seconds:
    """Whole seconds since 1970 in real time, so that nothing depends on a clock change."""
    return Seconds(round(moment.timestamp()))


@dataclass(frozen=True, slots=True)
class Columns:
    """Valid readings in order of time. Shape of each: (readings,). Values in tenths, `seconds` since 1970."""

    seconds: Ints
    systolic: Ints
    diastolic: Ints
    heart_rate: Ints
    has_heart_rate: Flags
    mean: Ints
    has_mean: Flags


def columns(judged: Iterable[Judged]) -> Columns:
    """Columns of the readings that validation let through; the order of the file does not matter."""
    rows = sorted(_row(verdict) for verdict in judged if verdict.use is Use.VALID)
    table = np.array(rows, dtype=np.int64).reshape(len(rows), 6).T
    return Columns(
        seconds=table[0],
        systolic=table[2],
        diastolic=table[3],
        heart_rate=table[4],
        has_heart_rate=table[4] != _ABSENT,
        mean=table[5],
        has_mean=table[5] != _ABSENT,
    )


def _row(verdict: Judged) -> tuple[int, int, int, int, int, int]:
    reading = verdict.reading
    if reading.systolic is None or reading.diastolic is None:
        raise ValueError("a valid reading has both pressures")
    rate = None if verdict.heart_rate_excluded else reading.heart_rate
    return (
        instant(reading.at),
        reading.row,
        reading.systolic,
        reading.diastolic,
        _ABSENT if rate is None else rate,
        _ABSENT if reading.mean is None else reading.mean,
    )


@dataclass(frozen=True, slots=True)
class Cells:
    """Ragged table: cell i holds the readings `starts[i]` to `starts[i + 1]` (exclusive) of the columns.

    `starts` has shape (cells + 1,). `stretch` numbers the interval of the period in which a reading lies: two
    readings are successive only within one stretch (a nap parts the awake period). `hour` counts real elapsed
    hours since the cell began.
    """

    columns: Columns
    starts: Ints
    stretch: Ints
    hour: Ints

    def only(self, spots: Sequence[int]) -> "Cells":
        """Some of the cells, in the order of `spots`."""
        sizes = np.diff(self.starts)[spots]
        starts = np.concatenate(([0], np.cumsum(sizes)))
        pick = np.arange(starts[-1]) + np.repeat(self.starts[:-1][spots] - starts[:-1], sizes)
        return Cells(cut(self.columns, pick), starts, self.stretch[pick], self.hour[pick])


def cut(table: Columns, pick: slice | Ints | Flags) -> Columns:
    """Some readings of the columns, in the order of `pick`."""
    return Columns(*(getattr(table, field.name)[pick] for field in fields(Columns)))


def inside(table: Columns, spans: Sequence[Interval]) -> Columns:
    """Readings of half-open spans, in the order of the spans."""
    bounds = [np.searchsorted(table.seconds, [instant(span.start), instant(span.end)]) for span in spans]
    return cut(table, _chained([np.arange(*found) for found in bounds]))


def cells(table: Columns, periods: Sequence[Period]) -> Cells:
    """Cut the columns by the periods' `means` intervals, half-open in real time; one cell per period."""
    picks: list[Ints] = []
    stretches: list[Ints] = []
    hours: list[Ints] = []
    starts = [0]
    for period in periods:
        spans = sorted((instant(span.start), instant(span.end)) for span in period.means)
        bounds = np.searchsorted(table.seconds, np.array(spans, dtype=np.int64).reshape(-1, 2)).tolist()
        for number, (low, high) in enumerate(bounds):
            picks.append(np.arange(low, high))
            stretches.append(np.full(high - low, number, dtype=np.int64))
            hours.append((table.seconds[low:high] - spans[0][0]) // 3600)
        starts.append(starts[-1] + sum(high - low for low, high in bounds))
    return Cells(
        columns=cut(table, _chained(picks)),
        starts=np.array(starts, dtype=np.int64),
        stretch=_chained(stretches),
        hour=_chained(hours),
    )


def joined(batch: Sequence[Cells]) -> Cells:
    """Many tables of cells as one; the order of cells is kept."""
    sizes = np.array([len(table.stretch) for table in batch], dtype=np.int64)
    offsets = np.concatenate(([0], np.cumsum(sizes)))
    starts = [table.starts[:-1] + offset for table, offset in zip(batch, offsets[:-1], strict=True)]
    return Cells(
        columns=Columns(
            *(np.concatenate([getattr(table.columns, field.name) for table in batch]) for field in fields(Columns))
        ),
        starts=np.concatenate([*starts, offsets[-1:]]),
        stretch=_chained([table.stretch for table in batch]),
        hour=_chained([table.hour for table in batch]),
    )


def _chained(parts: Sequence[Ints]) -> Ints:
    return np.concatenate(parts) if parts else np.empty(0, dtype=np.int64)
