"""The first hour after fitting, where the site wants it apart: walking about, being watched, a cuff that is new."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import timedelta

from gateway.model import Finding, Interval, Judged, Recording, Use
from gateway.model.phrase import Phrase
from gateway.periods import utc
from gateway.validate.case import caution

FIRST_HOUR = "first-hour"
_HOUR = timedelta(hours=1)


def hour_after_fitting(recording: Recording) -> Interval:
    """One hour of real time (UTC) from fitting, or from the first attempt where the fitting is not known."""
    start = utc(recording.fitted or recording.began)
    return Interval(start, start + _HOUR)


def set_apart(judged: Sequence[Judged], hour: Interval) -> tuple[Judged, ...]:
    """The same verdicts; valid readings of the hour are listed and count in no mean and no adequacy figure."""
    why = Phrase("in the first hour after fitting: kept apart, not counted")
    return tuple(
        replace(one, use=Use.LISTED, rule=FIRST_HOUR, why=why)
        if one.use is Use.VALID and utc(one.reading.at) in hour
        else one
        for one in judged
    )


def first_hour_said(judged: Sequence[Judged]) -> Iterator[Finding]:
    """A caution, because averages of other sites may hold the first hour."""
    apart = sum(one.rule == FIRST_HOUR for one in judged)
    text = "The first hour after fitting is kept apart: {count} valid readings of it count in no average."
    if apart == 1:
        text = "The first hour after fitting is kept apart: {count} valid reading of it counts in no average."
    yield caution(FIRST_HOUR, Phrase(text, count=apart))
