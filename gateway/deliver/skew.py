"""Do our clock and the server's agree? Told from the Date of its answers (RFC 9110, 6.6.1). Pure."""

from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime

TOLERATED = timedelta(seconds=60)
"""A signed assertion lives for minutes only; below this a difference does no harm."""


def skew(date: str | None, now: datetime) -> timedelta | None:
    """How far our clock is ahead of the server's (negative: behind). None where it does not say."""
    try:
        theirs = parsedate_to_datetime(date or "")
        return now - (theirs if theirs.tzinfo else theirs.replace(tzinfo=UTC))
    except (ValueError, OverflowError):
        return None


def skew_words(date: str | None, now: datetime) -> str:
    """A sentence without its full stop where the clocks differ too much, else ""."""
    ahead = skew(date, now)
    if ahead is None or abs(ahead) <= TOLERATED:
        return ""
    side = "ahead of" if ahead > timedelta(0) else "behind"
    return f"the clock of this machine is {span_words(abs(ahead))} {side} the server's"


def span_words(span: timedelta) -> str:
    """A length of time as people say it, to the minute, hour or day."""
    minutes = round(span.total_seconds() / 60)
    if minutes < 120:
        return f"{minutes} minute{'s' if minutes != 1 else ''}"
    return f"{round(minutes / 60)} hours" if minutes < 48 * 60 else f"{round(minutes / 60 / 24)} days"
