"""Segments, fields, repetitions, components and escapes of HL7 version 2 (v2.5.1, chapter 2, 2.5 to 2.7)."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from gateway.model import HoldReason
from gateway.read.held import Held

MOST_SEGMENTS = 100_000
_NAME = re.compile(r"[A-Z][A-Z0-9]{2}", re.ASCII)
_HEADERS = ("MSH", "FHS", "BHS")


@dataclass(frozen=True, slots=True)
class Signs:
    """The signs that a header declares: between fields, components, repetitions, for escapes, sub-components."""

    field: str
    component: str
    repetition: str
    escape: str
    part: str


@dataclass(frozen=True, slots=True)
class Segment:
    """One segment; `line` counts segments from 1. `fields` are numbered as the standard numbers them."""

    line: int
    name: str
    fields: tuple[str, ...]
    signs: Signs

    def repetitions(self, number: int) -> int:
        """How often the field is given; an empty one once."""
        return len(self._field(number).split(self.signs.repetition))

    def value(self, number: int, component: int, repetition: int = 1) -> str:
        """One component (its first part) without escapes and blanks around it, "" when it is not there. The two
        quotes that say "nothing" are nothing.
        """
        repeated = self._field(number).split(self.signs.repetition)[repetition - 1]
        components = repeated.split(self.signs.component)
        if len(components) < component:
            return ""
        raw = components[component - 1].split(self.signs.part)[0]
        return "" if raw == '""' else _plain(raw, self.signs).strip()

    def _field(self, number: int) -> str:
        return self.fields[number - 1] if number <= len(self.fields) else ""


def segments(text: str) -> Sequence[Segment]:
    """All segments of a file. Raises Held for a line that is none, and for a batch that was cut off."""
    lines = [line for line in re.split(r"\r\n|\r|\n", text) if line.strip()]
    if len(lines) > MOST_SEGMENTS:
        raise Held(HoldReason.FILE_TOO_LARGE, f"more than {MOST_SEGMENTS} segments")
    found: list[Segment] = []
    signs: Signs | None = None
    for number, line in enumerate(lines, 1):
        name = line[:3]
        if name in _HEADERS:
            signs = _declared(line, number)
        if signs is None or not _NAME.fullmatch(name) or line[3:4] not in ("", signs.field):
            raise Held(HoldReason.FILE_UNREADABLE, f"line {number} is no segment")
        fields = tuple(line.split(signs.field)[1:])
        # the field separator is itself the first field of a header
        found.append(Segment(number, name, (signs.field, *fields) if name in _HEADERS else fields, signs))
    _refuse_cut_off(found)
    return found


def _refuse_cut_off(found: Sequence[Segment]) -> None:
    """What a batch opens it must close, and its counts must be right."""
    names = [each.name for each in found]
    for opens, closes in (("FHS", "FTS"), ("BHS", "BTS")):
        if names.count(opens) != names.count(closes):
            raise Held(HoldReason.FILE_UNREADABLE, f"the batch is cut off: {closes} is missing")
    stated = [each.value(1, 1) for each in found if each.name == "BTS"]
    if all(each.isdecimal() for each in stated) and stated and sum(map(int, stated)) != names.count("MSH"):
        raise Held(HoldReason.FILE_UNREADABLE, "the batch has not as many messages as it says")


def _declared(line: str, number: int) -> Signs:
    signs = line[3:8]
    if len(signs) < 5 or len(set(signs)) < 5 or any(sign.isalnum() or sign.isspace() for sign in signs):
        raise Held(HoldReason.FILE_UNREADABLE, f"line {number} does not declare its signs")
    return Signs(*signs)


def _plain(raw: str, signs: Signs) -> str:
    """Escapes of the standard for its own signs and for line breaks; any other stays as it stands."""
    escape = signs.escape
    if escape not in raw:
        return raw
    meaning = {"F": signs.field, "S": signs.component, "T": signs.part, "R": signs.repetition, "E": escape}
    meaning |= {".br": "\n"}
    quoted = re.escape(escape)
    return re.sub(rf"{quoted}([^{quoted}]*){quoted}", lambda found: meaning.get(found[1], found[0]), raw)
