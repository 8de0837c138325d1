"""What every destination chooses, wherever it lies: which recordings it gets and what is filed of them."""

import re
from datetime import time
from typing import Literal, Self

from pydantic import Field, field_validator, model_validator

from gateway.mapping.parse import Declared
from gateway.model import Filing, HeartRateChoice, PersonChoice, ReadingsChoice, ReportChoice
from gateway.model.routing import Only

WHY_READINGS = (
    'say which single readings are filed: readings = "valid" (every usable reading), "all" (failed and excluded '
    'ones too) or "none" (averages only). There is no default, because a record that shows the latest pressure '
    "may then show a reading taken asleep or on the stairs"
)


class OnlyChoice(Declared):
    """Which recordings go there. Every list that is written must hold the recording's; none written: all go."""

    sites: tuple[str, ...] = ()
    """as the export names the site; a file that names none counts as site.name"""
    layouts: tuple[str, ...] = ()
    """ids of source maps, as `preview` tells them"""
    guidelines: tuple[str, ...] = ()
    """ids of guidelines, of the one that the result was judged by"""
    adequate: bool = False
    """only recordings that were proved good enough"""


HOURS = re.compile(r"([01]\d|2[0-3]):([0-5]\d)-([01]\d|2[0-3]):([0-5]\d)")


class PaceChoice(Declared):
    """How fast and when it wants its deliveries."""

    per_minute: int | None = Field(default=None, ge=1, le=6000)
    """at most so many recordings a minute from each node; None: as fast as it answers"""
    at_once: int = Field(default=1, ge=1, le=16)
    """so many at the same time from each node, never two of one person"""
    hours: tuple[str, ...] = ()
    """spans of the site's local day, "18:00-06:00"; none: always"""

    @field_validator("hours")
    @classmethod
    def _as_spans(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        for span in value:
            found = HOURS.fullmatch(span)
            if found is None or found[1] + found[2] == found[3] + found[4]:
                raise ValueError('write spans of the local day such as ["18:00-06:00"]; leave hours out for always')
        return value

    def spans(self) -> tuple[tuple[time, time], ...]:
        """The hours as begin and end."""
        pairs = (span.split("-") for span in self.hours)
        return tuple((time.fromisoformat(begin), time.fromisoformat(end)) for begin, end in pairs)


class CircuitChoice(Declared):
    """When a destination that fails is left alone for a while."""

    opens_after: int = Field(default=5, ge=1, le=1000)
    """failures of the server in a row; one recording counts once"""
    pause: int = Field(default=30, ge=1, le=3600)
    """seconds; doubles each time a probe fails"""
    longest_pause: int = Field(default=900, ge=1, le=21600)
    """seconds"""

    @model_validator(mode="after")
    def _rising(self) -> Self:
        if self.longest_pause < self.pause:
            raise ValueError("longest_pause is shorter than pause; write at least as many seconds")
        return self


class Choices(Declared):
    """The site's choices for one destination. `identifier_systems` maps the system of a number as we know it to the
    one that this destination uses (same where it is not listed).
    """

    name: str = Field(pattern=r"^[a-z0-9][a-z0-9-]{0,31}$")
    only: OnlyChoice = OnlyChoice()
    pace: PaceChoice = PaceChoice()
    circuit: CircuitChoice = CircuitChoice()
    identifier_systems: dict[str, str] = Field(default_factory=dict)
    readings: ReadingsChoice = Field(default=None, validate_default=True)
    heart_rate: HeartRateChoice = HeartRateChoice.COMPONENT
    report: ReportChoice = ReportChoice.DIAGNOSTIC_REPORT
    report_binary: bool = False
    """the PDF as a Binary of its own, for servers that limit the size of what stands inside another resource"""
    report_status: Literal["preliminary", "final"] = "preliminary"
    interpretation: bool = True
    snomed: bool = False
    profile: str = "international"
    person: PersonChoice = PersonChoice.LOOK_UP

    @field_validator("readings", mode="before")
    @classmethod
    def _readings_chosen(cls, value: object) -> object:
        if value is None:
            raise ValueError(WHY_READINGS)
        return value

    def filing(self, performer: str) -> Filing:
        """These choices, as composing needs them. `performer`: the organization that answers."""
        return Filing(
            destination=self.name,
            performer=performer,
            readings=self.readings,
            heart_rate=self.heart_rate,
            report=self.report,
            report_binary=self.report_binary,
            report_status=self.report_status,
            interpretation=self.interpretation,
            snomed=self.snomed,
            profile=self.profile,
        )

    def takes(self, home: str) -> Only:
        """Which recordings go there. `home`: the name of this site."""
        only = self.only
        return Only(
            sites=only.sites, layouts=only.layouts, guidelines=only.guidelines, adequate=only.adequate, home=home
        )
