"""When a destination is set to rest, when one delivery probes it, and when all go on. Pure.

The usual circuit breaker: closed (everything is tried), open (nothing is), half-open (one probe).
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from gateway.deliver.backoff import LONGEST_WISH
from gateway.model import LONGEST_WAIT, Answer, HoldReason, Rejected, TryLater
from gateway.model.circuit import CLOSED, Circuit

OURS = frozenset({HoldReason.PROCESSING_FAULT, HoldReason.CONTENT_FAULT})
"""Our own faults say nothing about the server."""

AGREED = timedelta(minutes=1)
"""So far the clocks of nodes may differ."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitRule:
    """Open after so many failures in a row; the pause doubles from `pause` up to `longest`."""

    opens_after: int = 5
    pause: timedelta = timedelta(seconds=30)
    longest: timedelta = timedelta(minutes=15)


USUAL = CircuitRule()


class Passage(StrEnum):
    """What may be sent now."""

    ALL = "all"
    PROBE = "probe"
    NONE = "none"


def passage(circuit: Circuit, now: datetime) -> Passage:
    """May anything be sent? A pause that began in our future, or ends beyond the longest, was noted by a clock that
    stood ahead; it counts as over, and one may probe.
    """
    if circuit.until is None:
        return Passage.ALL
    ahead = circuit.changed is not None and circuit.changed > now + AGREED
    return Passage.NONE if now < circuit.until <= now + LONGEST_WAIT and not ahead else Passage.PROBE


def probing(circuit: Circuit, now: datetime, rule: CircuitRule) -> Circuit:
    """The circuit while one delivery probes: closed to all others until that answered, or its pause is over."""
    return replace(circuit, until=now + _pause(max(circuit.opened - 1, 0), rule))


def after(circuit: Circuit, answer: Answer, recording_id: str, now: datetime, rule: CircuitRule) -> Circuit:
    """The circuit after one answer. What a server says about one recording is no failure of the server."""
    if isinstance(answer, Rejected) and answer.hold.reason in OURS:
        return circuit
    if not isinstance(answer, TryLater):
        return CLOSED
    if answer.unreachable:
        failed = replace(circuit, failures=circuit.failures + 1, why=answer.why)
    else:
        failing = tuple(dict.fromkeys((*circuit.failing, recording_id)))
        failed = replace(circuit, failing=failing, why=answer.why)
    if failed.count < rule.opens_after and circuit.until is None:
        return failed
    wish = min(answer.after or timedelta(0), LONGEST_WISH)
    return replace(
        failed,
        opened=circuit.opened + 1,
        since=circuit.since or now,
        until=now + max(_pause(circuit.opened, rule), wish),
        failures=min(failed.failures, 10 * rule.opens_after),
        failing=failed.failing[-rule.opens_after :],
    )


def _pause(opened: int, rule: CircuitRule) -> timedelta:
    return min(rule.pause * (1 << min(opened, 20)), rule.longest)
