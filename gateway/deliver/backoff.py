"""How long to wait before the next attempt. Pure."""

from datetime import timedelta

from gateway.model import TryLater

FIRST = timedelta(seconds=5)
CAP = timedelta(hours=1)
LONGEST_WISH = timedelta(hours=6)
"""A server may ask for patience, but not for ever."""


def backoff(attempt: int, answer: TryLater, random: float) -> timedelta:
    """Wait after attempt number `attempt` (1, 2, …) that ended with `answer`; `random` in [0, 1).

    Without a wish of the server: full jitter below a bound that doubles from 5 s up to 1 h (general practice for
    many clients on one server), but at least 1 s. With a wish (Retry-After): never sooner than asked, at most
    6 h, and up to a tenth later so that waiting clients do not return all at once.
    """
    if answer.after is not None:
        wish = min(max(answer.after, timedelta(seconds=1)), LONGEST_WISH)
        return wish + wish * 0.1 * random
    doublings = min(max(attempt, 1) - 1, 20)
    bound = min(FIRST * int(2**doublings), CAP)
    return max(bound * random, timedelta(seconds=1))
