"""What one pass over the inbox did."""

from dataclasses import dataclass, field

from gateway.model import Answer, Delivered, Rejected


@dataclass(slots=True, kw_only=True)
class Account:
    """What one pass did, in counts. `remarks` are plain sentences about what needs attention; `neglected` counts
    what of the inbox could not be taken; `waiting` all that waits for a person, from this pass or an earlier one.
    """

    taken: int = 0
    again: int = 0
    delivered: int = 0
    held: int = 0
    postponed: int = 0
    neglected: int = 0
    waiting: int = 0
    unreachable: bool = False
    remarks: list[str] = field(default_factory=list)

    def add(self, answer: Answer) -> None:
        """Count what became of one delivery."""
        if isinstance(answer, Delivered):
            self.delivered += 1
        elif isinstance(answer, Rejected):
            self.held += 1
            self.remarks.append(f"held: {answer.hold.sentence} What to do: {answer.hold.action}")
        else:
            self.postponed += 1
            self.unreachable = self.unreachable or answer.unreachable
            self.remarks.append(f"postponed: {answer.why}")
