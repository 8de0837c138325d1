"""What a walk over the log can find, in words."""

from dataclasses import dataclass
from enum import StrEnum


class Fault(StrEnum):
    """Closed list of what can be wrong with a log."""

    CHANGED = "changed"
    DETAIL_CHANGED = "detail-changed"
    REMOVED = "removed"
    REORDERED = "reordered"
    CUT_OFF = "cut-off"
    REWRITTEN = "rewritten"
    HEAD_FORGED = "head-forged"
    HEAD_ORDER = "head-order"


_SENTENCES = {
    Fault.CHANGED: "Entry {seq} was changed, or the entry before it was.",
    Fault.DETAIL_CHANGED: "The detail of entry {seq} was changed.",
    Fault.REMOVED: "An entry before entry {seq} was removed.",
    Fault.REORDERED: "Entry {seq} stands in the wrong place.",
    Fault.CUT_OFF: "The log once reached entry {seq}; its end was cut off.",
    Fault.REWRITTEN: "Entry {seq} is not the one that was signed; the log was written anew.",
    Fault.HEAD_FORGED: "The signed head for entry {seq} was not signed with this key.",
    Fault.HEAD_ORDER: "The signed head for entry {seq} stands in the wrong place of its file.",
}


@dataclass(frozen=True, slots=True)
class Broken:
    """One fault and the entry it was met at."""

    fault: Fault
    seq: int

    @property
    def sentence(self) -> str:
        """The fault in plain words."""
        return _SENTENCES[self.fault].format(seq=self.seq)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification:
    """What a walk over the log showed.

    `faults` are the first 50, `fault_count` is all. `proven_to` is the last entry vouched for by a genuine head
    from outside the store; what comes after it could be cut off unseen. `torn` counts lines of the heads file
    that are no head (a power cut leaves such a line; it proves nothing and takes nothing away).
    """

    entries: int
    purged: int
    last: int
    last_hash: str
    proven_to: int
    outside: bool
    torn: int
    faults: tuple[Broken, ...]
    fault_count: int

    @property
    def whole(self) -> bool:
        """Nothing changed, removed, reordered or cut off, as far as it can be shown."""
        return self.fault_count == 0

    @property
    def tail_proven(self) -> bool:
        """A genuine head from outside vouches for the very last entry."""
        return self.outside and self.proven_to == self.last

    @property
    def sentence(self) -> str:
        """The result in one plain sentence or two."""
        if not self.whole:
            return f"The audit log is broken: {self.fault_count} fault(s). {self.faults[0].sentence}"
        text = f"The audit log is whole: {self.entries} entries."
        if not self.outside:
            return f"{text} Its end is unproven: no heads from outside the store were given."
        if not self.tail_proven:
            return f"{text} The last {self.last - self.proven_to} are unproven: no outside head covers them yet."
        return text
