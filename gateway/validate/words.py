"""Small words of the findings."""

from datetime import timedelta

from gateway.model.phrase import Phrase


def in_words(span: timedelta) -> Phrase:
    """ "24 hours", "6 h 30 min"."""
    hours, minutes = divmod(span // timedelta(minutes=1), 60)
    if minutes:
        return Phrase("{hours} h {minutes} min", hours=hours, minutes=minutes)
    return Phrase("{hours} hour" if hours == 1 else "{hours} hours", hours=hours)
