"""What `preview --json` prints: the contract that people script against."""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldFacts:
    """Why the file would be held, what happened, what to do."""

    reason: str
    sentence: str
    action: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingFacts:
    """One remark of a rule."""

    rule: str
    severity: str
    sentence: str
    rows: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingFacts:
    """One attempt. Pressures in mmHg, heart rate per minute; null is "not there"."""

    row: int
    at: str
    use: str
    kind: str
    systolic: Decimal | None
    diastolic: Decimal | None
    mean: Decimal | None
    heart_rate: Decimal | None
    why: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteFacts:
    """One diary entry other than sleep. `kind`: medication, posture, symptom or text."""

    at: str
    kind: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingFacts:
    """What was read. The person's identifier stands here as the file had it, in canonical form.

    `details` are all further facts around the recording (arm, cuff, order, clinic pressure, programme…), by name.
    """

    source_map: str
    encoding: str
    identifier_system: str | None
    identifier: str | None
    family_name: str | None
    given_name: str | None
    birth_date: str | None
    monitor_model: str | None
    monitor_serial: str | None
    zone: str | None
    began: str
    ended: str
    asleep: tuple[tuple[str, str], ...]
    readings: tuple[ReadingFacts, ...]
    notes: tuple[NoteFacts, ...] = ()
    details: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StatisticFacts:
    """One number as reported, or null with the reason."""

    name: str
    period: str | None
    day: int
    value: Decimal | None
    unit: str
    count: int
    reason: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PeriodFacts:
    """One period with its exact intervals (start, end) and counts."""

    period: str
    day: int
    origin: str
    intervals: tuple[tuple[str, str], ...]
    scheduled: int | None
    attempted: int
    valid: int
    excluded: int
    failed: int
    percent: Decimal | None
    adequate: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class AdequacyFacts:
    """The verdict, by whose rule, and what is not met."""

    verdict: str
    rule: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class InterpretationFacts:
    """One statement against a named limit."""

    subject: str
    period: str | None
    day: int
    result: str
    flag: str | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SummaryFacts:
    """The result in numbers and words. `comparison` is empty where no earlier recording is known."""

    guideline: str
    review: str
    conclusion: tuple[str, ...]
    periods: tuple[PeriodFacts, ...]
    statistics: tuple[StatisticFacts, ...]
    adequacy: AdequacyFacts
    interpretations: tuple[InterpretationFacts, ...]
    comparison: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviewFacts:
    """Everything about one file. `summary` may be null only when `hold` is not. `companion`: what becomes of a PDF
    that came with it ("beside" or "instead" of our report, or why it is not filed), null where none did.
    """

    recording: RecordingFacts | None
    findings: tuple[FindingFacts, ...]
    summary: SummaryFacts | None
    hold: HoldFacts | None
    companion: str | None = None
