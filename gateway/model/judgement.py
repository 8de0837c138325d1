"""What became of each reading, and what was found in the recording as a whole."""

from dataclasses import dataclass
from enum import StrEnum

from gateway.model.adequacy import Adequacy
from gateway.model.finding import Finding
from gateway.model.hold import Hold
from gateway.model.period import Windows
from gateway.model.recording import Reading
from gateway.model.review import Review


class Use(StrEnum):
    """What a reading may be used for."""

    VALID = "valid"
    """counts everywhere"""
    LISTED = "listed"
    """measured, kept and shown, counts in no mean and no adequacy figure (fitting, manual)"""
    EXCLUDED = "excluded"
    """measured, but a named rule keeps it out"""
    FAILED = "failed"
    """the attempt gave no pressure"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A reading with the verdict on it. `rule` and `why` are set unless the reading is valid.

    `heart_rate_excluded` is the name of the rule that keeps only the heart rate out, or None.
    """

    reading: Reading
    use: Use
    rule: str | None = None
    why: str | None = None
    heart_rate_excluded: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """The verdict of validation. `judged` keeps the file's order, one per attempt.

    `hold` is the first thing that a person must decide, None if the recording may go on. `windows` and
    `adequacy` are None only when a hold came before they could be found. `historical`: the recording ended
    longer ago than the site's limit, so no notices are sent and the report is headed so.
    """

    judged: tuple[Judged, ...]
    findings: tuple[Finding, ...]
    review: Review
    windows: Windows | None
    adequacy: Adequacy | None
    hold: Hold | None
    historical: bool = False
