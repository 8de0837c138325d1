"""The site's monitors."""

from datetime import date
from typing import Self

from pydantic import Field, model_validator

from gateway.mapping.monitors import MonitorAnswer, plain_words
from gateway.mapping.parse import Declared


class RegisterEntry(Declared):
    """One monitor of the site."""

    serial: str = Field(min_length=1, max_length=60)
    """as its exports have it"""
    model: str = ""
    location: str = ""
    """the site to which it belongs, as exports name it"""
    calibration_due: date | None = None
    """the first day on which it should not be used any more is the one after it"""


class Monitors(Declared):
    """The register, and what is done about a recording of a monitor that is not in order; nothing without one."""

    known: tuple[RegisterEntry, ...] = ()
    unknown: MonitorAnswer = MonitorAnswer.WARN
    """not in the register, or there with another model"""
    overdue: MonitorAnswer = MonitorAnswer.WARN
    """its calibration was due before the recording ended"""
    elsewhere: MonitorAnswer = MonitorAnswer.WARN
    """it belongs to another site than the recording comes from"""

    @model_validator(mode="after")
    def _once(self) -> Self:
        serials = [plain_words(entry.serial) for entry in self.known]
        if doubled := sorted({serial for serial in serials if serials.count(serial) > 1}):
            raise ValueError(f"monitors: the serial {doubled[0]!r} stands twice; give each monitor one entry")
        return self
