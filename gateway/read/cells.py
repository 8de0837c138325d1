"""Cells of a workbook -> text: dates and times as ISO 8601, numbers with the decimal mark of the map."""

from datetime import date, datetime, time, timedelta
from decimal import Decimal

from gateway.read.extract import Figure


def figure(value: float | Decimal, mark: str) -> Figure:
    """A number with the 15 digits that a spreadsheet keeps (IEEE 754 doubles hold no more for certain)."""
    exact = Decimal(f"{value:.15g}")
    plain = f"{exact:f}"
    if "." in plain:
        plain = plain.rstrip("0").rstrip(".")
    return Figure(plain.replace(".", mark))


def moment(value: datetime, shows_clock: bool) -> str:
    """A date, with its clock time where the cell shows one; seconds are rounded: a serial number holds fractions."""
    whole = (value + timedelta(microseconds=500_000)).replace(microsecond=0)
    return f"{whole:%Y-%m-%dT%H:%M:%S}" if shows_clock else f"{whole:%Y-%m-%d}"


def clock(value: time | timedelta) -> str:
    """A clock time; one past 24:00 is written on (26:10:00), and the reader of clock times decides about it."""
    if isinstance(value, time):
        value = timedelta(
            hours=value.hour, minutes=value.minute, seconds=value.second, microseconds=value.microsecond
        )
    seconds = round(value.total_seconds())
    sign = "-" if seconds < 0 else ""
    seconds = abs(seconds)
    return f"{sign}{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}"


def day(value: date) -> str:
    """A date alone."""
    return value.isoformat()
