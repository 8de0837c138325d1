"""A held file beside the earlier recording that speaks against it: what is equal and what differs."""

import json
import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gateway.store import HeldItem, Store

_NAMED = re.compile(r"(?::|recording )([0-9a-f]{8})\b")
Facts = Mapping[str, Any]
"""the part `recording` of what `preview --json` prints"""


def compared(store: "Store", item: "HeldItem") -> list[str]:
    """Who the file names and, where the hold is about an earlier recording, the two side by side."""
    ours = _read(item.facts)
    if ours is None:
        return []
    lines = list(in_the_file(ours))
    named = _NAMED.search(item.rule) or _NAMED.search(item.sentence)
    earlier = store.find(named[1]) if named else None
    facts = store.facts(earlier) if isinstance(earlier, str) else None
    theirs = _read(facts)
    if named is None or theirs is None:
        return lines
    return [*lines, *side_by_side(ours, theirs, named[1]), *_differences(facts, item)]


def _differences(filed: bytes | None, item: "HeldItem") -> Iterator[str]:
    """What would change in the record; said only of two files of one recording, so never of another person."""
    from gateway.analyse.differing import differences
    from gateway.model import HoldReason

    if item.reason in (HoldReason.RECORDING_CHANGED, HoldReason.RECORDING_PARTIAL) and filed and item.facts:
        yield "what would change (+ added, - gone, ~ other):"
        yield from (f"  {line}" for line in differences(filed, item.facts).lines)


def in_the_file(ours: Facts) -> Iterator[str]:
    """Who the held file says it is, for comparing with the appointment."""
    name = ", ".join(part for part in (ours.get("family_name"), ours.get("given_name")) if part)
    yield f"in the file: number {ours.get('identifier') or 'missing'}, born {ours.get('birth_date') or 'missing'}"
    yield f"             name {name or 'missing'}, monitor {ours.get('monitor_serial') or 'unknown'}"
    yield f"             from {_minute(ours['began'])} to {_minute(ours['ended'])}"


def side_by_side(ours: Facts, theirs: Facts, short: str) -> Iterator[str]:
    """A line for each thing compared. Nothing of another person is shown but that it is another."""
    same = _number(ours) == _number(theirs)
    yield _line("", "this file", f"recording {short}")
    yield _line("person", ours.get("identifier") or "missing", "the same person" if same else "another person")
    yield _line("monitor", ours.get("monitor_serial") or "unknown", theirs.get("monitor_serial") or "unknown")
    yield _line("from", _minute(ours["began"]), _minute(theirs["began"]))
    yield _line("to", _minute(ours["ended"]), _minute(theirs["ended"]))
    yield _line("attempts", str(len(ours["readings"])), str(len(theirs["readings"])))
    shared = len(_values(ours) & _values(theirs))
    yield f"pressures that stand in both: {shared} of {len(_values(ours))}"


def _line(what: str, ours: str, theirs: str) -> str:
    return f"{what:<10}{ours:<28}{theirs}".rstrip()


def _number(facts: Facts) -> tuple[Any, Any]:
    return facts.get("identifier_system"), facts.get("identifier")


def _minute(instant: str) -> str:
    return f"{datetime.fromisoformat(instant):%Y-%m-%d %H:%M %z}"


def _values(facts: Facts) -> set[tuple[str, str]]:
    return {
        (str(each["systolic"]), str(each["diastolic"]))
        for each in facts["readings"]
        if each.get("systolic") is not None and each.get("diastolic") is not None
    }


def _read(facts: bytes | None) -> dict[str, Any] | None:
    found: dict[str, Any] | None = json.loads(facts).get("recording") if facts else None
    return found
