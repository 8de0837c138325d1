"""Awake, asleep and 24 hours: how the windows of a recording are found and cut.

    from gateway.periods import find

`frame` says which days there are, `sleep` what is known of the sleep, `fixed` what clock times give instead, `clock`
turns local clock times into instants, `spans` cuts and joins half-open spans. `finding` reads as that line.
"""

from gateway.periods.clock import Clock, clock_of, nightly
from gateway.periods.finding import find
from gateway.periods.frame import COUNTED, days, first_scheduled, last_counted
from gateway.periods.sleep import RULE as SLEEP_RULE
from gateway.periods.spans import in_utc, outside, utc, within

__all__ = [
    "COUNTED",
    "SLEEP_RULE",
    "Clock",
    "clock_of",
    "days",
    "find",
    "first_scheduled",
    "in_utc",
    "last_counted",
    "nightly",
    "outside",
    "utc",
    "within",
]
