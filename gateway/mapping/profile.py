"""Published FHIR profiles that a destination wants to be claimed, and what an instance must be to claim one."""

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


class Effective(StrEnum):
    """How an Observation says when."""

    MOMENT = "effectiveDateTime"
    SPAN = "effectivePeriod"


class Part(Declared):
    """One component that a profile asks for, exactly once, with all of `codes` ("system-id:code").

    `text` is the fixed text of its code, "" for any. `valued`: a reason why there is no value does not do.
    """

    codes: tuple[str, ...] = Field(min_length=1)
    text: str = ""
    valued: bool = False


class Published(Declared):
    """One published profile, and what we know that an instance must be, so that it is claimed only where it is met.

    `status` and `effective` empty: any will do. `closed`: no components but `parts`.
    """

    url: str = Field(pattern=r"^https?://\S+$")
    status: tuple[str, ...] = ()
    effective: tuple[Effective, ...] = ()
    codes: tuple[str, ...] = ()
    parts: tuple[Part, ...] = ()
    closed: bool = False
    site_coded: bool = False
    """A coded body site must carry a SNOMED CT code."""


class Profile(Declared):
    """One file of `mappings/profiles`. `claims` names the profiles to be claimed on each kind of resource.

    `sleep_extension` is the URL of the extension that says awake or asleep on a reading, "" for none;
    `position_extension` that of the body position. `units` is how
    UCUM units are written out (UCUM code -> text) where that is not as in `mappings/codes`.
    """

    id: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    title: str
    citation: str = Field(min_length=3)
    claims: dict[Claim, tuple[Published, ...]] = Field(default_factory=dict)
    sleep_extension: str = ""
    position_extension: str = ""
    units: dict[str, str] = Field(default_factory=dict)

    def closed(self, claim: Claim) -> Published | None:
        """The profile that allows no components but its own on this kind of resource, None where none does."""
        return next((published for published in self.claims.get(claim, ()) if published.closed), None)
