"""What XML and JSON have in common: values at the paths of a map -> facts and rows."""

from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

from gateway.mapping.source import SourceMap, places
from gateway.model import HoldReason
from gateway.read.extract import Extract, Fact, Figure, Row, folded
from gateway.read.grid import MOST_ROWS
from gateway.read.held import Held

Node = TypeVar("Node")
Texts = Callable[[Node, str, bool], Sequence[str]]
"""All values at a path from a node; whether a group in which the last step is missing gives an empty text."""


def outline(root: Node, rows: Sequence[Node], texts: Texts[Node], source: SourceMap) -> Extract:
    """Everything that the map names. `Row.number` counts the readings from 1. Raises Held for two values in one
    place of a reading, and for too many readings.
    """
    if len(rows) > MOST_ROWS:
        raise Held(HoldReason.FILE_TOO_LARGE, f"more than {MOST_ROWS} readings")
    # begin and end of a sleep are told apart by their order: a missing half must not let the others move up
    halves = {path for _, place in places(source.diary) for _, path in place.paths}
    facts = tuple(
        Fact(at, folded(path), (clean(text),))
        for path in named(source, "fact", source.signs.facts)
        for at, text in enumerate(texts(root, path, path in halves), 1)
    )
    columns = named(source, "column", source.signs.columns)
    found = tuple(_row(number, node, columns, texts) for number, node in enumerate(rows, 1))
    present = [folded(path) for path in columns if any(folded(path) in row.cells for row in found)]
    return Extract(facts=facts, columns=tuple(present), rows=found)


def shows_signs(found: Extract, source: SourceMap) -> bool:
    """Are all columns and facts that the map declares as signs there?"""
    facts = {fact.name for fact in found.facts}
    wanted = {folded(path) for path in source.signs.columns}
    return wanted <= set(found.columns) and {folded(path) for path in source.signs.facts} <= facts


def named(source: SourceMap, what: str, signs: Sequence[str]) -> tuple[str, ...]:
    """Every path of the map of that kind, each once, in the order of the map."""
    where = places(source.readings) if what == "column" else places(source)
    paths = [path for _, place in where for key, path in place.paths if key == what]
    return tuple(dict.fromkeys((*paths, *signs, *(source.kept if what == "fact" else ()))))


def known_paths(source: SourceMap) -> tuple[frozenset[str], frozenset[str]]:
    """Paths that the map names: from the top, and from a reading. One to be ignored may be either."""
    above = named(source, "fact", source.signs.facts)
    beside = named(source, "column", source.signs.columns)
    return frozenset((*above, *source.ignored)), frozenset((*beside, *source.ignored))


def not_known(count: int, what: str) -> tuple[str, ...]:
    """The remark on what no path of the map reaches, a count only: anything may stand there, in names too."""
    return (f"{count} {what}: not known to the map, not used",) if count else ()


def clean(text: str) -> str:
    """Text without blanks around it; a number stays marked as one."""
    return text if isinstance(text, Figure) else text.strip()


def _row(number: int, node: Node, columns: Sequence[str], texts: Texts[Node]) -> Row:
    return Row(number, dict(_cells(number, node, columns, texts)))


def _cells(number: int, node: Node, columns: Sequence[str], texts: Texts[Node]) -> Iterator[tuple[str, str]]:
    for path in columns:
        values = texts(node, path, False)
        if len(values) > 1:
            raise Held(HoldReason.FACTS_DISAGREE, f"reading {number} has two values in one place")
        if values:
            yield folded(path), str(clean(values[0]))
