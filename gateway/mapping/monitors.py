"""The site's register of its monitors, and what it does about a recording of one that is not in order."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

UNKNOWN_RULE, OVERDUE_RULE, ELSEWHERE_RULE = "monitor-unknown", "monitor-overdue", "monitor-elsewhere"
MONITOR_FINDINGS = frozenset({UNKNOWN_RULE, OVERDUE_RULE, ELSEWHERE_RULE})
"""Rules that speak of the monitor itself, so that what they say stands with its Device too."""


class MonitorAnswer(StrEnum):
    """What is done about a doubt on the monitor."""

    IGNORE = "ignore"
    WARN = "warn"
    HOLD = "hold"


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisteredMonitor:
    """One monitor. Empty or None is not known and never a reason for doubt."""

    serial: str
    model: str = ""
    location: str = ""
    calibration_due: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MonitorRules:
    """`register` by serial number as `plain_words` writes it; an empty one raises no doubt. `home`: the site that a
    recording comes from whose export names none.
    """

    register: Mapping[str, RegisteredMonitor] = field(default_factory=dict)
    unknown: MonitorAnswer = MonitorAnswer.WARN
    overdue: MonitorAnswer = MonitorAnswer.WARN
    elsewhere: MonitorAnswer = MonitorAnswer.WARN
    home: str = ""

    def of(self, serial: str | None) -> RegisteredMonitor | None:
        """The monitor of that serial number, None where the register has none."""
        return self.register.get(plain_words(serial or ""))


def plain_words(text: str) -> str:
    """As serial numbers, models and places are compared: without regard to capitals and outer blanks."""
    return " ".join(text.split()).casefold()
