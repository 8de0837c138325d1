"""How one destination wants results to be filed: choices, not addresses."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class ReadingsChoice(StrEnum):
    """Which single readings are filed."""

    VALID = "valid"
    ALL = "all"
    NONE = "none"


class HeartRateChoice(StrEnum):
    """Where the heart rate of a reading goes."""

    COMPONENT = "component"
    SEPARATE = "separate"
    NONE = "none"


class ReportChoice(StrEnum):
    """Where the PDF goes, once."""

    DIAGNOSTIC_REPORT = "diagnostic-report"
    DOCUMENT_REFERENCE = "document-reference"
    NONE = "none"


class PersonChoice(StrEnum):
    """Is the person looked up on the server, or only named by number?"""

    LOOK_UP = "look-up"
    LOGICAL = "logical"


@dataclass(frozen=True, slots=True, kw_only=True)
class Filing:
    """A destination's choices. `profile` is the id of a file in `mappings/profiles`.

    `performer` is the organization that answers for the result; `report_status` "preliminary" or "final";
    `replaces`: when the result was made that this one corrects, None for a first one;
    `signed_off_by` names who looked at this result before it was filed, empty for nobody;
    `report_binary`: the PDF lies in a Binary of its own, and the report only points there;
    `snomed` says that the site holds a SNOMED CT licence; `interpretation` off: values and adequacy only.
    """

    destination: str
    performer: str
    readings: ReadingsChoice = ReadingsChoice.VALID
    heart_rate: HeartRateChoice = HeartRateChoice.COMPONENT
    report: ReportChoice = ReportChoice.DIAGNOSTIC_REPORT
    report_binary: bool = False
    report_status: str = "preliminary"
    signed_off_by: str = ""
    replaces: datetime | None = None
    interpretation: bool = True
    snomed: bool = False
    profile: str = "international"
