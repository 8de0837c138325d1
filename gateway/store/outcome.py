"""What an answer means for the row of its delivery and for the audit trail. Pure."""

from datetime import UTC, datetime
from typing import Any

from gateway.model import Answer, Delivered, DeliveryState, EventKind, Rejected, TryLater
from gateway.store.rows import hold_text


def columns(answer: Answer, due: datetime | None, unknown_before: bool) -> dict[str, Any]:
    """The new values of the delivery's row. Raises ValueError where TryLater comes without `due`."""
    match answer:
        case Delivered():
            done = {"state": DeliveryState.DONE, "outcome_unknown": False, "answer": None, "hold": None}
            return {**done, "patient": answer.patient}
        case TryLater():
            if due is None:
                raise ValueError("a delivery that is tried later needs the time when")
            # once unknown, unknown until somebody asked with success: asking again does no harm
            unknown = unknown_before or answer.outcome_unknown
            return {"state": DeliveryState.WAITING, "due": due, "outcome_unknown": unknown, "answer": answer.why}
        case Rejected():
            held = {"state": DeliveryState.HELD, "hold": hold_text(answer.hold)}
            unknown = unknown_before or answer.outcome_unknown
            return {**held, "outcome_unknown": unknown, "answer": answer.answer}


def told(answer: Answer, due: datetime | None, unknown_before: bool) -> tuple[EventKind, dict[str, Any]]:
    """The audited step and its detail."""
    match answer:
        case Delivered():
            return EventKind.DELIVERED, {
                "count": answer.count,
                "unchanged": answer.unchanged,
                "patient": answer.patient,
                "outcome_unknown_before": unknown_before or answer.uncertain_before,
                "order": answer.order,
                "remarks": [remark.value for remark in answer.remarks],
            }
        case TryLater():
            return EventKind.POSTPONED, {
                "why": answer.why,
                "unreachable": answer.unreachable,
                "outcome_unknown": unknown_before or answer.outcome_unknown,
                "due": None if due is None else due.astimezone(UTC).isoformat(timespec="seconds"),
            }
        case Rejected():
            return EventKind.REJECTED, {
                "reason": answer.hold.reason.value,
                "rule": answer.hold.rule,
                "answer": answer.answer,
            }
