"""Is this recording one that was taken in before, with other content?"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from gateway.model import Hold, HoldReason, Recording
from gateway.model.changes import Changes

WITHDRAWN_RULE = "withdrawn-before"
CORRECTION_RULE = "correction"


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """What is known of an earlier recording of the same person. `instants` are seconds since 1970 (UTC)."""

    recording_id: str
    serial: str | None
    instants: frozenset[int]


def instants_of(recording: Recording) -> tuple[int, ...]:
    """Sorted real instants of all attempts, in seconds since 1970."""
    return tuple(sorted({_seconds(reading.at) for reading in recording.readings}))


def _seconds(instant: datetime) -> int:
    return int(instant.timestamp())


def same_recording(recording: Recording, earlier: Earlier) -> bool:
    """Same person is given; no serial contradicts and at least half of the shorter one's instants coincide."""
    serial = recording.monitor.serial
    if serial and earlier.serial and serial != earlier.serial:
        return False
    ours = set(instants_of(recording))
    shorter = min(len(ours), len(earlier.instants))
    return shorter > 0 and 2 * len(ours & earlier.instants) >= shorter


def hold_if_withdrawn(recording: Recording, withdrawn: Iterable[Earlier], finished: bool) -> Hold | None:
    """Hold a file whose recording was filed for this person before and taken back; None when it is none of these.

    A named person may let it be filed again, but not before every record has given the withdrawn one back.
    """
    for candidate in withdrawn:
        if same_recording(recording, candidate):
            detail = f"recording {candidate.recording_id[:8]}"
            if not finished:
                return Hold(reason=HoldReason.WITHDRAWN_BEFORE, detail=f"{detail}, its withdrawal is not finished")
            return Hold(reason=HoldReason.WITHDRAWN_BEFORE, detail=detail, rule=WITHDRAWN_RULE)
    return None


def hold_if_corrected(changes: Changes, recording_id: str, waived: frozenset[str]) -> Hold | None:
    """Hold another file of a recording that is filed, unless it only adds to it, or a named person saw this very
    difference. Half an export is never let pass: it would take good readings out of a record.
    """
    short = recording_id[:8]
    if changes.only_less:
        detail = f"recording {short}, {len(changes.removed)} fewer"
        return Hold(reason=HoldReason.RECORDING_PARTIAL, detail=detail)
    rule = f"{CORRECTION_RULE}:{short}:{changes.mark}"
    if not changes.needs_person or rule in waived:
        return None
    return Hold(reason=HoldReason.RECORDING_CHANGED, detail=f"recording {short}: {changes.counted}", rule=rule)
