"""Hourly means, hour by hour: what the curve of a day is drawn from.

The hours are real elapsed hours since the day began, the same whose means make the 24-hour mean of hourly means
(Octavio 2010, J Hypertens 28:459), so a clock change neither doubles nor drops one.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import numpy as np

from gateway.analyse import kernels
from gateway.analyse.columns import cells, columns
from gateway.model import Judged, PeriodName, Windows, reported


@dataclass(frozen=True, slots=True, kw_only=True)
class Hour:
    """Means of the `count` valid readings of one hour, half up to one decimal: mmHg, and per minute.

    `start` keeps the local offset of the day's start. `heart_rate` is None where no reading of the hour has one.
    """

    day: int
    start: datetime
    count: int
    systolic: Decimal
    diastolic: Decimal
    heart_rate: Decimal | None


def hourly_means(judged: Iterable[Judged], windows: Windows) -> tuple[Hour, ...]:
    """Every hour that holds a valid reading, day by day in order of time; the others are left out, not filled in."""
    days = [period for period in windows.periods if period.name is PeriodName.WHOLE]
    parts = cells(columns(judged), days)
    table = parts.columns
    edges, of_day = kernels.hours_read(parts.hour, parts.starts)
    rated = kernels.only(table.has_heart_rate, edges)
    begun = [min((span.start for span in period.means), key=datetime.timestamp) for period in days]
    rows = zip(
        np.repeat(np.arange(len(days)), np.diff(of_day)).tolist(),
        parts.hour[edges[:-1]].tolist(),
        np.diff(edges).tolist(),
        kernels.sums(table.systolic, edges).tolist(),
        kernels.sums(table.diastolic, edges).tolist(),
        np.diff(rated).tolist(),
        kernels.sums(table.heart_rate[table.has_heart_rate], rated).tolist(),
        strict=True,
    )
    return tuple(
        Hour(
            day=days[spot].day,
            start=_later(begun[spot], hour),
            count=count,
            systolic=reported(upper, 10 * count),
            diastolic=reported(lower, 10 * count),
            heart_rate=reported(rate, 10 * beats) if beats else None,
        )
        for spot, hour, count, upper, lower, beats, rate in rows
    )


def _later(start: datetime, hours: int) -> datetime:
    return (start.astimezone(UTC) + timedelta(hours=hours)).astimezone(start.tzinfo)
