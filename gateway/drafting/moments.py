"""How dates and clock times are written: every order that the form allows is tried on the whole file."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from gateway.mapping.source_time import ISO, clock_expression, date_expression, moment_expression

DATE = re.compile(r"(?P<a>\d{1,4})(?P<sep>[-./ ])(?P<b>\d{1,2})(?P=sep)(?P<c>\d{1,4})|(?P<whole>\d{8})", re.ASCII)
CLOCK = re.compile(
    r"(?P<h>\d{1,2})(?P<colon>[:.])(?P<m>\d{2})(?P<s>(?P=colon)\d{2})?(?:(?P<gap> ?)(?P<half>[AaPp]\.?[Mm]\.?))?",
    re.ASCII,
)
TWO = re.compile(
    r"(?P<date>[-./\d]{6,10}|\d+ \d+ \d+)(?P<joint>T|,? +)(?P<clock>\d[\d:.]*(?: ?[AaPp]\.?[Mm]\.?)?)", re.ASCII
)
FUTURE, LONG, BACK, NEVER = (
    "it would lie in the future",
    "it would be far longer than two days",
    "its times would jump back",
    "it gives a date that does not exist",
)
"""what speaks against an order of the date, the worst last"""
LONGEST = timedelta(hours=52)
"""a recording is about a day, two with a planned second night"""
_BACK = timedelta(hours=2)  # clocks go back by an hour; order within it is the reader's business


@dataclass(frozen=True, slots=True)
class Written:
    """A pattern, the evidence for it, and whether the file proves it."""

    pattern: str
    evidence: str
    proven: bool


def is_moment(text: str) -> bool:
    """Does a cell hold a date and a clock time?"""
    if moment_expression(ISO).fullmatch(text):
        return True
    found = TWO.fullmatch(text)
    return (
        found is not None
        and DATE.fullmatch(found["date"]) is not None
        and CLOCK.fullmatch(found["clock"]) is not None
    )


def clock_pattern(texts: Sequence[str]) -> str | None:
    """The one pattern that all clock times share, None when there is none."""
    found = [CLOCK.fullmatch(text) for text in texts]
    forms = {(each["colon"], each["s"] is not None, each["gap"] if each["half"] else None) for each in found if each}
    if None in found or len(forms) != 1:
        return None
    colon, seconds, gap = forms.pop()
    hour = "hh" if all(each and len(each["h"]) == 2 for each in found) else "h"
    return f"{hour}{colon}mm{f'{colon}ss' if seconds else ''}{f'{gap}ap' if gap is not None else ''}"


def date_patterns(texts: Sequence[str]) -> tuple[str, ...]:
    """Every pattern that the form of the dates allows; their order of numbers is not yet proven."""
    found = [each for each in (DATE.fullmatch(text) for text in texts) if each]
    if len(found) != len(texts) or not found or len({each["sep"] for each in found}) != 1:
        return ()
    if found[0]["whole"]:
        return "YYYYMMDD", "DDMMYYYY", "MMDDYYYY"
    sep = found[0]["sep"]
    lengths = [{len(each[part]) for each in found} for part in "abc"]
    if lengths[0] == {4}:
        shapes: tuple[str, ...] = ("YMD",)
    elif lengths[2] == {4}:
        shapes = ("DMY", "MDY")
    else:
        shapes = tuple(shape for shape, year in (("DMY", 2), ("MDY", 2), ("YMD", 0)) if lengths[year] == {2})
    return tuple(_pattern(shape, sep, lengths) for shape in shapes if max(map(max, lengths)) <= 4)


def _pattern(shape: str, sep: str, lengths: Sequence[set[int]]) -> str:
    parts = []
    for sign, seen in zip(shape, lengths, strict=True):
        parts.append(sign * max(seen) if sign == "Y" else sign * 2 if seen == {2} else sign)
    return sep.join(parts)


def wall(pattern_date: str, day: str, pattern_clock: str | None, clock: str) -> datetime | None:
    """Naive local time by these patterns, None where there is no such date or time."""
    found = date_expression(pattern_date).fullmatch(day)
    if found is None:
        return None
    try:
        year = int(found["year"]) + (2000 if len(found["year"]) == 2 else 0)
        start = datetime.combine(date(year, int(found["month"]), int(found["day"])), datetime.min.time())
    except ValueError:
        return None
    if pattern_clock is None:
        return start
    seconds = seconds_of(pattern_clock, clock)
    return None if seconds is None else start + timedelta(seconds=seconds)


def seconds_of(pattern: str, clock: str) -> int | None:
    """Seconds since midnight, None where there is no such time."""
    found = clock_expression(pattern).fullmatch(clock)
    if found is None:
        return None
    parts = found.groupdict()
    hour, minute, second = int(parts["hour"]), int(parts["minute"]), int(parts.get("second") or 0)
    if half := parts.get("half"):
        hour = hour % 12 + (12 if half[0] in "Pp" else 0)
    return None if hour > 24 or minute > 59 or second > 59 else hour * 3600 + minute * 60 + second


def against(walls: Sequence[datetime | None], now: datetime) -> str | None:
    """What speaks against these times being a recording: impossible dates, falling times, length, the future."""
    if any(each is None for each in walls):
        return NEVER
    times = [each for each in walls if each is not None]
    falls = [earlier - later for earlier, later in pairwise(times) if later < earlier]
    if len(falls) > 1 or any(fall > _BACK for fall in falls):
        return BACK
    if times and max(times) - min(times) > LONGEST:
        return LONG
    if times and max(times) > now.replace(tzinfo=None) + timedelta(days=1):
        return FUTURE
    return None


def decide(orders: Sequence[tuple[str, Sequence[datetime | None]]], now: datetime) -> Written:
    """The date pattern that the whole file proves, or the first that nothing else rules out as an open question.

    That another order would lie in the future is no proof: the clock of a monitor may never have been set.
    """
    doubts = {pattern: against(walls, now) for pattern, walls in orders}
    left = [pattern for pattern, doubt in doubts.items() if doubt is None]
    if len(orders) == 1:
        only = orders[0][0]
        if left:
            return Written(only, f"'{only}' is the only order that the form of the dates allows", True)
        return Written(only, f"'{only}' by the form of the dates, but {doubts[only]}", False)
    if len(left) == 1:
        others = "; ".join(f"not '{pattern}': {doubt}" for pattern, doubt in doubts.items() if doubt)
        firm = FUTURE not in doubts.values()
        return Written(left[0], f"'{left[0]}' by all rows of the file; {others}", firm)
    if left:
        return Written(left[0], f"{_or(left)}? all rows of the file fit each of them; ask when it was worn", False)
    first = min(doubts, key=lambda pattern: (FUTURE, LONG, BACK, NEVER).index(doubts[pattern] or FUTURE))
    reasons = "; ".join(f"'{pattern}': {doubt}" for pattern, doubt in doubts.items())
    return Written(first, f"no order of the date fits the whole file ({reasons})", False)


def half_day(pattern: str, clocks: Iterable[str]) -> Written:
    """Is the clock one of 24 hours? Only an hour after noon or the hour 0 proves it."""
    if pattern == ISO or pattern.endswith("ap"):
        return Written(pattern, f"'{pattern}' fits every row", True)
    hours = {int(found["h"]) for clock in clocks if (found := CLOCK.fullmatch(clock))}
    if any(hour == 0 or hour > 12 for hour in hours):
        return Written(pattern, f"'{pattern}' fits every row, and hours of the afternoon or the hour 0 occur", True)
    return Written(
        pattern, f"'{pattern}' fits every row, but no hour after noon occurs: morning or afternoon?", False
    )


def _or(patterns: Sequence[str]) -> str:
    return " or ".join(f"'{each}'" for each in patterns)
