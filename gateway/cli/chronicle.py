"""What happened to one recording, step by step in plain words, each decision with who took it and why."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from gateway.model import ADVICE, Act, Event, EventKind, HoldReason, Remark
from gateway.store import Decision

WORDS = {
    EventKind.RECEIVED: "the file came in and was stored unchanged",
    EventKind.SEEN_AGAIN: "the same file came in once more; nothing was done a second time",
    EventKind.READ: "it was read and examined",
    EventKind.HELD: "it was held",
    EventKind.READY: "the result was made and put into the queue",
    EventKind.RELEASED: "{by} released it",
    EventKind.REFUSED: "{by} refused it",
    EventKind.CORRECTED: "{by} had the result made anew",
    EventKind.SIGNED_OFF: "{by} signed the result off",
    EventKind.RETRACTED: "{by} took it back",
    EventKind.ACKNOWLEDGED: "{by} acknowledged the notice of its withdrawal",
    EventKind.OVERTAKEN: "what was not sent yet was stopped, because it is being withdrawn or corrected",
    EventKind.SENDING: "{act} began",
    EventKind.PART_FILED: "{parts} into the record",
    EventKind.DELIVERED: "everything is in the record and was read back",
    EventKind.POSTPONED: "{act} was not possible now and will be tried again",
    EventKind.REJECTED: "it was not taken there and is held",
    EventKind.RECOVERED: "work that had broken off was taken up again",
}
ACTS = {Act.FILE: "filing", Act.CORRECT: "correcting", Act.WITHDRAW: "withdrawing"}
WITHDRAWN = "everything that was filed is withdrawn, and was read back"
REMARKS = {
    Remark.FAMILY_NAME: "the family name in the record is another one than in the file",
    Remark.GIVEN_NAME: "the given name in the record is another one than in the file",
    Remark.NAMES_EXCHANGED: "family and given name stand in each other's place in the record",
    Remark.MERGED: "the number stood on an entry that was merged into this one",
}
PLAIN = {
    "map": "layout",
    "guideline": "guideline",
    "adequacy": "adequacy",
    "destination": "destination",
    "attempt": "attempt",
    "count": "entries",
    "unchanged": "there before",
    "findings": "findings",
    "not_to": "not to",
    "corrects": "corrects",
    "adds_nothing_to": "adds nothing to",
    "differences": "differences",
    "patient": "entry of the person",
    "order": "order",
    "why": "because",
}
"""Details that mean something to a person; hashes and lists of ids stay in `audit export`."""
DECIDED = frozenset(
    {EventKind.RELEASED, EventKind.REFUSED, EventKind.RETRACTED, EventKind.CORRECTED, EventKind.SIGNED_OFF}
)


def chronicle(events: Sequence[Event], decisions: Sequence[Decision]) -> Iterator[str]:
    """Every step in order; parts that were written one after the other are one line."""
    open_ = list(decisions)
    for kind, run in groupby(events, key=lambda event: (event.kind, event.detail.get("destination"))):
        steps = list(run)
        if kind[0] is EventKind.PART_FILED:
            yield _line(steps[-1], _told(steps[-1], len(steps)))
            continue
        for event in steps:
            yield _line(event, _decided(event, open_) or _told(event))
            if event.kind is EventKind.DELIVERED:
                yield from (f"  note: {REMARKS[Remark(each)]}" for each in _list(event.detail.get("remarks")))


def _line(event: Event, told: str) -> str:
    return f"{event.at:%Y-%m-%d %H:%M:%S} UTC  {told}"


def _decided(event: Event, decisions: list[Decision]) -> str:
    """A decision in the words of the person who took it; each is told once."""
    if event.kind not in DECIDED:
        return ""
    own = [each for each in decisions if (each.verdict, each.by, each.at) == (event.kind, event.actor, event.at)]
    if not own:
        return ""
    decisions.remove(own[0])
    return f"{what_was_decided(own[0])}: {own[0].why}"


def what_was_decided(decision: Decision) -> str:
    """Who decided what, without the reason."""
    if decision.given:
        number = (decision.replaced or "").rpartition("|")[2] or "no number"
        return f"{decision.by} replaced {number} by {decision.given}"
    told = WORDS[decision.verdict].format(by=decision.by)
    return f"{told}, letting '{decision.rule}' pass" if decision.rule else told


def _told(event: Event, parts: int = 1) -> str:
    act = Act(str(event.detail.get("act", Act.FILE)))
    words = WITHDRAWN if (event.kind, act) == (EventKind.DELIVERED, Act.WITHDRAW) else WORDS.get(event.kind)
    written = "a part was written" if parts == 1 else f"{parts} parts were written"
    told = words.format(by=event.actor, act=ACTS[act], parts=written) if words else event.kind.value
    return told + _reason(event.detail) + _details(event)


def _reason(detail: Mapping[str, object]) -> str:
    """Why it waits for a person, in the nurse's words."""
    reason = str(detail.get("reason", ""))
    return f": {ADVICE[HoldReason(reason)].sentence} [{reason}]" if reason in set(HoldReason) else ""


def _details(event: Event) -> str:
    shown = {name: event.detail[key] for key, name in PLAIN.items() if event.detail.get(key) not in ("", None, [], 0)}
    if event.kind not in (EventKind.POSTPONED, EventKind.RECOVERED):
        shown.pop("because", None)  # reasons of people are kept as hashes in the log
    more = ", ".join(f"{name} {', '.join(_list(value)) or value}" for name, value in shown.items())
    return f" ({more})" if more else ""


def _list(value: object) -> list[str]:
    return [str(each) for each in value] if isinstance(value, list | tuple) else []
