"""Which map describes a file: the one whose declared signs are all there."""

from collections.abc import Sequence
from fnmatch import fnmatchcase

from gateway.mapping.source import SourceMap
from gateway.model import HoldReason
from gateway.read.delimited import Line, fact_names, header_at, split
from gateway.read.extract import folded, seen
from gateway.read.held import Held
from gateway.read.text import glance, looks_wide


def claimed_by(content: bytes, name: str, maps: Sequence[SourceMap]) -> SourceMap:
    """The one map that claims the file. Raises Held when none or several do."""
    found = [source for source in maps if _claims(source, content, name)]
    if len(found) > 1:
        raise Held(HoldReason.SEVERAL_MAPS, ", ".join(sorted(source.name for source in found)))
    if found:
        return found[0]
    if looks_wide(content):
        raise Held(HoldReason.FILE_ENCODING, "it looks like UTF-16 without a byte-order mark")
    raise Held(HoldReason.NO_MAP)


def _claims(source: SourceMap, content: bytes, name: str) -> bool:
    if source.draft or not fnmatchcase(name.casefold(), source.signs.name.casefold()):
        return False
    lines = _beginning(glance(content, source.format.code_page), source)
    at = header_at(lines, source.signs.columns)
    if at is None:
        return False
    return {folded(fact) for fact in source.signs.facts} <= fact_names(lines[:at], source.format)


def _beginning(text: str, source: SourceMap) -> list[Line]:
    """Rows up to the first that cannot be split: damage further down is told when the file is read."""
    lines: list[Line] = []
    rows = split(text, source.format)
    while True:
        try:
            line = next(rows, None)
        except Held:
            return lines
        if line is None:
            return lines
        if any(seen(cell) for cell in line[1]):
            lines.append(line)
