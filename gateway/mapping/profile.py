"""Which published FHIR profiles a destination wants to be claimed, as data."""

from enum import StrEnum

from pydantic import Field

from gateway.mapping.parse import Declared


class Claim(StrEnum):
    """What a profile is claimed on."""

    READING = "reading"
    HEART_RATE = "heart-rate"
    PERIOD = "period"
    WHOLE_DAY = "whole-day"
    REPORT = "report"


class Profile(Declared):
    """One file of `mappings/profiles`. `claims` names the canonical URLs claimed on each kind of resource.

    `sleep_extension` is the URL of the extension that says awake or asleep on a reading, "" for none.
    """

    id: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    title: str
    citation: str = Field(min_length=3)
    claims: dict[Claim, tuple[str, ...]] = Field(default_factory=dict)
    sleep_extension: str = ""
