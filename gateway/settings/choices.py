"""What every destination chooses, wherever it lies: which recordings it gets and what is filed of them."""

from typing import Literal

from pydantic import Field, field_validator

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


class Choices(Declared):
    """The site's choices for one destination. `identifier_systems` maps the system of a number as we know it to the
    one that this destination uses (same where it is not listed).
    """

    name: str = Field(pattern=r"^[a-z0-9][a-z0-9-]{0,31}$")
    only: OnlyChoice = OnlyChoice()
    identifier_systems: dict[str, str] = Field(default_factory=dict)
    readings: ReadingsChoice = Field(default=None, validate_default=True)
    heart_rate: HeartRateChoice = HeartRateChoice.COMPONENT
    report: ReportChoice = ReportChoice.DIAGNOSTIC_REPORT
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
