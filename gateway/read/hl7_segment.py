"""Segments, fields, repetitions, components and escapes of HL7 version 2 (v2.5.1, chapter 2, 2.5 to 2.7)."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from gateway.model import HoldReason
from gateway.read.held import Held

MOST_SEGMENTS = 100_000
MOST_REPETITIONS = 100
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

    def repeated(self, number: int) -> list[str]:
        """What the field gives, split once; an empty field gives one empty text. Raises Held for too many."""
        found = self._field(number).split(self.signs.repetition, MOST_REPETITIONS)
        if len(found) > MOST_REPETITIONS:
            raise Held(HoldReason.FILE_HOSTILE, f"segment {self.line} repeats a field too often")
        return found

    def value(self, number: int, component: int) -> str:
        """One component of the first repetition of a field."""
        return self.component(self.repeated(number)[0], component)

    def component(self, repeated: str, number: int) -> str:
        """One component (its first part) without escapes and blanks around it, "" when it is not there. The two
        quotes that say "nothing" are nothing.
        """
        components = repeated.split(self.signs.component)
        if len(components) < number:
            return ""
        raw = components[number - 1].split(self.signs.part)[0]
        return "" if raw == '""' else _plain(raw, self.signs).strip()

    def goes_on(self, number: int, component: int) -> bool:
        """Does anything follow the first part of this component in the first repetition of a field?"""
        inside = (self.signs.component, self.signs.part)
        components = self.repeated(number)[0].split(inside[0])[component - 1 :]
        parts = inside[0].join(components).replace(*inside).split(inside[1])
        return any(part.strip(' "') for part in parts[1:])

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
    if any(len(each) > 9 for each in stated):
        raise Held(HoldReason.FILE_UNREADABLE, "the batch says a number of messages that cannot be")
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
