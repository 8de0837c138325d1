"""What a rule noticed about a recording."""

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """`hold`: a person must decide first. `caution`: printed with the result. `note`: for the record."""

    HOLD = "hold"
    CAUTION = "caution"
    NOTE = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One rule's remark. `rule` is the stable name; `sentence` is plain words without the person's details.

    `rows` are the file rows concerned. A finding of severity `hold` whose rule is waived by a named person
    (the rule's name stands in the waivers) becomes a caution.
    """

    rule: str
    severity: Severity
    sentence: str
    rows: tuple[int, ...] = ()
