"""What every rule is given, and what it gives back."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from gateway.mapping.rules import Rules
from gateway.model import Finding, Hold, HoldReason, Judged, Reading, Recording, Severity
from gateway.model.phrase import Phrase


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One recording under examination; `judged` keeps the order of the file."""

    recording: Recording
    rules: Rules
    now: datetime
    judged: tuple[Judged, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A rule's wish to hold. `waivable`: a named person may let it pass. `timeless`: the times are of no use, so no
    windows can be cut from them.
    """

    rule: str
    reason: HoldReason
    detail: str = ""
    rows: tuple[int, ...] = ()
    waivable: bool = True
    timeless: bool = False

    def hold(self, also: Sequence[str] = ()) -> Hold:
        """The hold; `also` are the sentences of whatever else waits for a person."""
        rule = self.rule if self.waivable else ""
        return Hold(reason=self.reason, detail=self.detail, rule=rule, findings=tuple(also))

    def stands(self, waived: frozenset[str]) -> bool:
        """True unless a named person let it pass."""
        return not (self.waivable and self.rule in waived)

    def finding(self, waived: frozenset[str]) -> Finding:
        """The doubt as a finding; a caution when it was let pass."""
        severity = Severity.HOLD if self.stands(waived) else Severity.CAUTION
        return Finding(rule=self.rule, severity=severity, sentence=self.hold().sentence, rows=self.rows)


Remark = Finding | Doubt
Rule = Callable[[Case], Iterable[Remark]]


def caution(rule: str, sentence: str) -> Finding:
    """A finding that is printed with the result."""
    return Finding(rule=rule, severity=Severity.CAUTION, sentence=sentence)


def note(rule: str, sentence: str, rows: Iterable[int] = ()) -> Finding:
    """A finding for the record."""
    return Finding(rule=rule, severity=Severity.NOTE, sentence=sentence, rows=tuple(rows))


def rows_of(readings: Iterable[Reading]) -> tuple[int, ...]:
    """File rows of the readings, in their order."""
    return tuple(reading.row for reading in readings)


def named_rows(rows: Sequence[int], most: int = 5) -> Phrase:
    """ "row 12" or "rows 12, 14 and 3 more", for the detail of a hold."""
    shown = ", ".join(str(row) for row in rows[:most])
    if len(rows) > most:
        return Phrase("rows {rows} and {more} more", rows=shown, more=len(rows) - most)
    return Phrase("row {rows}" if len(rows) == 1 else "rows {rows}", rows=shown)
