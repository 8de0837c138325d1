"""Small words of the findings."""

from datetime import timedelta


def in_words(span: timedelta) -> str:
    """ "24 hours", "6 h 30 min"."""
    hours, minutes = divmod(span // timedelta(minutes=1), 60)
    return f"{hours} h {minutes} min" if minutes else f"{hours} hour{'' if hours == 1 else 's'}"
