"""Which map describes a file: the one whose declared signs are all there."""

from collections.abc import Sequence
from fnmatch import fnmatchcase

from gateway.mapping.source import SourceMap
from gateway.model import HoldReason
from gateway.read.forms import FORMS
from gateway.read.held import Held
from gateway.read.opened import Opened
from gateway.read.text import looks_wide


def claimed_by(file: Opened, maps: Sequence[SourceMap]) -> SourceMap:
    """The one map that claims the file. Raises Held when none or several do, and when a file of a kind that a map
    describes is hostile or damaged so far that its signs cannot be seen.
    """
    found: list[SourceMap] = []
    damage: list[Held] = []
    for source in maps:
        try:
            if _claims(source, file):
                found.append(source)
        except Held as held:
            damage.append(held)
    if len(found) > 1:
        raise Held(HoldReason.SEVERAL_MAPS, ", ".join(sorted(source.name for source in found)))
    if found:
        return found[0]
    if damage:
        raise damage[0]
    if looks_wide(file.content):
        raise Held(HoldReason.FILE_ENCODING, "it looks like UTF-16 without a byte-order mark")
    raise Held(HoldReason.NO_MAP)


def _claims(source: SourceMap, file: Opened) -> bool:
    if source.draft or not fnmatchcase(file.name.casefold(), source.signs.name.casefold()):
        return False
    return FORMS[source.format.kind].claims(file, source, source.format)
