"""A recording as it is filed beside the same recording as it is now: what a person must see before it is corrected.

Both are the facts that `preview --json` prints and the store keeps. Readings belong together by their real instant
(and, where several share one, by their order).
"""

import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from gateway.model.changes import Changes

Facts = Mapping[str, Any]
Place = tuple[float, int]
_VALUES = ("systolic", "diastolic", "mean", "heart_rate")
_WORDS = {
    "family_name": "family name",
    "given_name": "given name",
    "birth_date": "birth date",
    "monitor_model": "model of the monitor",
    "monitor_serial": "serial number of the monitor",
    "zone": "time zone",
}
_SHOWN = ("systolic-mean", "diastolic-mean", "heart-rate-mean", "systolic-dip", "diastolic-dip")


def differences(filed: bytes, now: bytes) -> Changes:
    """What `now` has more, less or otherwise than `filed`. Both need a recording and a summary."""
    before, after = (json.loads(each, parse_float=Decimal) for each in (filed, now))
    added: list[str] = []
    removed: list[str] = []
    changed: list[str] = []
    for into, line in (*_readings(before, after), *_notes(before, after), *_circumstances(before, after)):
        {"added": added, "removed": removed, "changed": changed}[into].append(line)
    return Changes(
        added=tuple(added),
        removed=tuple(removed),
        changed=tuple(changed),
        classes=tuple(_classes(before["summary"], after["summary"])),
        figures=tuple(_figures(before["summary"], after["summary"])),
        guideline=before["summary"]["guideline"] != after["summary"]["guideline"],
        gone=frozenset(_gone(before, after)),
    )


def _readings(before: Facts, after: Facts) -> Iterator[tuple[str, str]]:
    old, new = _by_place(before["recording"]["readings"]), _by_place(after["recording"]["readings"])
    for place in sorted(old.keys() | new.keys()):
        was, is_ = old.get(place), new.get(place)
        if was is None and is_ is not None:
            yield "added", _said(is_)
        elif is_ is None and was is not None:
            yield "removed", _said(was)
        elif was is not None and is_ is not None and _said(was) != _said(is_):
            yield ("added" if _only_more(was, is_) else "changed"), f"{_said(was)} -> {_said(is_)}"


def _gone(before: Facts, after: Facts) -> Iterator[float]:
    old, new = _by_place(before["recording"]["readings"]), _by_place(after["recording"]["readings"])
    for place, was in old.items():
        is_ = new.get(place)
        if is_ is None or not (_said(was) == _said(is_) or _only_more(was, is_)):
            yield place[0]


def _by_place(readings: Sequence[Facts]) -> dict[Place, Facts]:
    seen: Counter[float] = Counter()
    found: dict[Place, Facts] = {}
    for reading in readings:
        instant = datetime.fromisoformat(reading["at"]).timestamp()
        found[instant, seen[instant]] = reading
        seen[instant] += 1
    return found


def _said(reading: Facts) -> str:
    pressures = "/".join(_number(reading.get(name)) for name in ("systolic", "diastolic"))
    more = [
        f"{word} {reading[name]}"
        for name, word in (("mean", "mean"), ("heart_rate", "heart rate"))
        if _has(reading, name)
    ]
    kind = [] if reading.get("kind") in (None, "scheduled") else [str(reading["kind"])]
    moment = datetime.fromisoformat(reading["at"])
    return f"{moment:%Y-%m-%d %H:%M:%S %z} {', '.join([f'{pressures} mmHg', *more, *kind, str(reading['use'])])}"


def _only_more(was: Facts, is_: Facts) -> bool:
    """Nothing that stood there is gone or other."""
    kept = all(not _has(was, name) or was[name] == is_.get(name) for name in _VALUES)
    return kept and all(was.get(name) == is_.get(name) for name in ("at", "use", "kind", "systolic", "diastolic"))


def _has(reading: Facts, name: str) -> bool:
    return reading.get(name) is not None


def _number(value: Any) -> str:
    return "-" if value is None else str(value)


def _notes(before: Facts, after: Facts) -> Iterator[tuple[str, str]]:
    old, new = (Counter(_note(note) for note in each["recording"].get("notes", ())) for each in (before, after))
    for line in (new - old).elements():
        yield "added", line
    for line in (old - new).elements():
        yield "removed", line


def _note(note: Facts) -> str:
    return f"diary {note['at']} {note['kind']}: {note['text']}"


def _circumstances(before: Facts, after: Facts) -> Iterator[tuple[str, str]]:
    old, new = _told(before), _told(after)
    for name in sorted(old.keys() | new.keys()):
        was, is_ = old.get(name), new.get(name)
        if was != is_ and was is None:
            yield "added", f"{name}: {is_}"
        elif was != is_ and is_ is None:
            yield "removed", f"{name}: {was}"
        elif was != is_:
            yield "changed", f"{name}: {was} -> {is_}"
    asleep = [_spans(each["recording"]["asleep"]) for each in (before, after)]
    if asleep[0] != asleep[1]:
        yield "changed", f"asleep: {asleep[0] or 'not told'} -> {asleep[1] or 'not told'}"


def _told(facts: Facts) -> dict[str, Any]:
    """All facts around the readings, by the words that people know them by."""
    recording, printed = facts["recording"], {"PDF of the monitor's software": facts.get("companion")}
    details = {str(name).replace("_", " "): value for name, value in recording.get("details", ())}
    return {_WORDS[name]: recording.get(name) for name in _WORDS} | details | printed


def _spans(spans: Sequence[Sequence[str]]) -> str:
    return ", ".join(f"{start} to {end}" for start, end in spans)


def _classes(before: Facts, after: Facts) -> Iterator[str]:
    old, new = _statements(before), _statements(after)
    for about in sorted(old.keys() | new.keys()):
        was, is_ = old.get(about), new.get(about)
        if was != is_:
            yield f"{about}: {was or 'nothing'} -> {is_ or 'nothing'}"


def _statements(summary: Facts) -> dict[str, str]:
    found = {_about(each["subject"], each): str(each["result"]) for each in summary["interpretations"]}
    found["good enough"] = f"{summary['adequacy']['verdict']} by {summary['adequacy']['rule']}"
    found["guideline"] = str(summary["guideline"])
    found["review"] = str(summary["review"])
    return found


def _about(name: str, each: Facts) -> str:
    day = f", day {each['day']}" if each["day"] > 1 else ""
    return f"{each['period'] or 'whole recording'}{day}: {name}"


def _figures(before: Facts, after: Facts) -> Iterator[str]:
    old, new = _numbers(before), _numbers(after)
    moved = [about for about in sorted(old.keys() | new.keys()) if old.get(about) != new.get(about)]
    shown = [about for about in moved if about.rpartition(": ")[2] in _SHOWN]
    for about in shown:
        yield f"{about} {_number(old.get(about))} -> {_number(new.get(about))}"
    if others := len(moved) - len(shown):
        yield f"{others} other figures"


def _numbers(summary: Facts) -> dict[str, str]:
    return {
        _about(each["name"], each): str(each["value"]) for each in summary["statistics"] if each["value"] is not None
    }
