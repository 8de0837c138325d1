"""An XML document -> its lists of readings, and the values outside them, by the paths that a map writes."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from xml.etree.ElementTree import Element

from gateway.drafting.branches import Branch, largest
from gateway.mapping.source_format import Xml

MOST_VALUES = 12
"""values of an attribute that tell elements of one name apart; more are no names of columns"""
_OF_XML = "http://www.w3.org/"

Texts = list[tuple[int, str]]
Members = Sequence[tuple[int, Element]]
"""One element for each reading, with the reading's number."""


@dataclass(frozen=True, slots=True)
class Tree:
    """A document with a prefix for each of its namespaces."""

    root: Element
    namespaces: Mapping[str, str]
    form: Xml

    def step(self, tag: str) -> str:
        """A name as a map writes it."""
        uri, _, local = tag.removeprefix("{").rpartition("}")
        prefix = next((each for each, known in self.namespaces.items() if known == uri), "")
        return f"{prefix}:{local}" if prefix else local

    def fits(self, path: str) -> bool:
        """Can a map write this path?"""
        return self.form.fault(path) is None


def tree(root: Element) -> Tree:
    """The document; prefixes are given in the order in which its namespaces occur."""
    names = chain.from_iterable((each.tag, *each.attrib) for each in root.iter() if isinstance(each.tag, str))
    uris = dict.fromkeys(name[1:].partition("}")[0] for name in names if name.startswith("{"))
    ours = [uri for uri in uris if not uri.startswith(_OF_XML)]
    namespaces = {f"n{number}": uri for number, uri in enumerate(ours, 1)}
    return Tree(root, namespaces, Xml(kind="xml", rows="", namespaces=namespaces))


def branches(found: Tree) -> list[Branch]:
    """Every set of elements with one path from the root."""
    lists: dict[str, list[Element]] = {}
    _gather(found, found.root, "", lists)
    return [_branch(found, path, members) for path, members in largest(lists) if found.fits(path)]


def _gather(found: Tree, node: Element, path: str, lists: dict[str, list[Element]]) -> None:
    for each in node:
        step = found.step(each.tag)
        below = f"{path}/{step}" if path else step
        if len(each) or each.attrib:
            lists.setdefault(below, []).append(each)
        _gather(found, each, below, lists)


def _branch(found: Tree, path: str, members: Sequence[Element]) -> Branch:
    rows: list[dict[str, str]] = [{} for _ in members]
    for column, texts in _spread(found, list(enumerate(members)), ""):
        if found.fits(column):
            for number, text in texts:
                rows[number][column] = text
    return Branch(path=path, rows=rows)


def _spread(
    found: Tree, members: Members, way: str, told_by: str = ""
) -> Iterator[tuple[str, list[tuple[int, str]]]]:
    """Each path below the members at which one value stands in every one that has it. `told_by`: the attribute that
    tells the members from others of their name, which is no value of theirs.
    """
    joint = f"{way}/" if way else ""
    for name in dict.fromkeys(name for _, each in members for name in each.attrib):
        if name == told_by or _of_xml(name):
            continue
        texts = [(number, each.attrib[name]) for number, each in members if name in each.attrib]
        yield f"{joint}@{found.step(name)}", texts
    if way and not any(len(each) for _, each in members):
        yield way, [(number, each.text or "") for number, each in members]
    for tag in dict.fromkeys(child.tag for _, each in members for child in each):
        groups = {number: [child for child in each if child.tag == tag] for number, each in members}
        for name, value, below in _apart({number: group for number, group in groups.items() if group}):
            condition = f"[@{name}='{value}']" if name else ""
            yield from _spread(found, below, f"{joint}{found.step(tag)}{condition}", name)


def _apart(groups: Mapping[int, Sequence[Element]]) -> Iterator[tuple[str, str, Members]]:
    """Elements of one name: one for each reading, or told apart by the values of an attribute in every reading."""
    if all(len(group) == 1 for group in groups.values()):
        yield "", "", [(number, group[0]) for number, group in groups.items()]
        return
    for name in dict.fromkeys(name for group in groups.values() for each in group for name in each.attrib):
        by_value = _by_value(groups, name)
        if by_value is not None and not name.startswith("{"):
            yield from ((name, value, members) for value, members in by_value.items())
            return


def _by_value(groups: Mapping[int, Sequence[Element]], name: str) -> dict[str, Members] | None:
    """None where the attribute does not tell them apart, or holds something else than the name of a column."""
    by_value: dict[str, list[tuple[int, Element]]] = {}
    for number, group in groups.items():
        values = [each.attrib.get(name, "") for each in group]
        if len(set(values)) != len(values) or not all(values):
            return None
        for value, each in zip(values, group, strict=True):
            by_value.setdefault(value, []).append((number, each))
    enough = max(2, len(groups) // 2)
    common = len(by_value) <= MOST_VALUES and all(len(members) >= enough for members in by_value.values())
    return {**by_value} if common else None


def outside(found: Tree, rows: str) -> list[tuple[str, str]]:
    """Path and text of every value that does not stand in a reading."""
    return [(path, text) for path, text in _facts(found, found.root, "", rows) if found.fits(path)]


def _facts(found: Tree, node: Element, way: str, rows: str) -> Iterator[tuple[str, str]]:
    joint = f"{way}/" if way else ""
    for name, text in node.attrib.items():
        if not _of_xml(name):
            yield f"{joint}@{found.step(name)}", text
    if way and not len(node):
        yield way, node.text or ""
    for child in node:
        below = f"{joint}{found.step(child.tag)}"
        if below != rows:
            yield from _facts(found, child, below, rows)


def _of_xml(name: str) -> bool:
    return name.startswith(f"{{{_OF_XML}")
