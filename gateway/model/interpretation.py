"""How a number lies against a named published limit. Words only, never a diagnosis."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from gateway.model.period import PeriodName


class Subject(StrEnum):
    """What is interpreted. `pressure` is a systolic/diastolic pair; one pair gives one sentence."""

    PRESSURE = "pressure"
    SYSTOLIC = "systolic"
    DIASTOLIC = "diastolic"
    SYSTOLIC_DIP = "systolic-dip"
    DIASTOLIC_DIP = "diastolic-dip"
    PATTERN = "pattern"
    """awake against asleep (isolated nocturnal or daytime values)"""
    CLINIC_PATTERN = "clinic-pattern"
    """ambulatory against clinic pressure"""
    LOW_PRESSURE = "low-pressure"


class Flag(StrEnum):
    """Codes of HL7 v3 ObservationInterpretation that a guideline file may assign by default."""

    NORMAL = "N"
    HIGH = "H"
    LOW = "L"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """The limit a value was held against: `value` mmHg is itself already "at or above".

    `source` is "<guideline, year>", for the text of a reference range.
    """

    value: Decimal
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Interpretation:
    """One statement. `result` is the id of the class in the guideline file ("dipper", "at-or-above-limit"…);
    `text` comes from the closed list of words and always names value and limit; `flag` None: text only.
    """

    subject: Subject
    period: PeriodName | None
    result: str
    text: str
    flag: Flag | None = None
    limit: Limit | None = None
    day: int = 1
