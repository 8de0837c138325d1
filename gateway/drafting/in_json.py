"""A JSON document -> its lists of readings, and the values outside them."""

from collections.abc import Iterator
from typing import Any

from gateway.drafting.branches import Branch, largest

MOST_DEPTH = 40


def is_fhir(root: Any) -> bool:
    """FHIR has its own kind of map."""
    return isinstance(root, dict) and "resourceType" in root


def branches(root: Any) -> list[Branch]:
    """Every list of groups in the document, by its path; a list on the way stands for each of its members."""
    lists: dict[str, list[dict[str, Any]]] = {}
    _gather(root, "", lists, 0)
    return [Branch(path=path, rows=[dict(_single(each)) for each in members]) for path, members in largest(lists)]


def _gather(node: Any, path: str, lists: dict[str, list[dict[str, Any]]], depth: int) -> None:
    if depth > MOST_DEPTH:
        return
    if isinstance(node, list):
        members = [each for each in node if isinstance(each, dict)]
        if members:
            lists.setdefault(path, []).extend(members)
        for each in node:
            _gather(each, path, lists, depth + 1)
    elif isinstance(node, dict):
        for name, each in node.items():
            if _is_step(name):
                _gather(each, f"{path}/{name}" if path else name, lists, depth + 1)


def _single(member: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Paths of a member at which one value stands."""
    found: dict[str, list[str]] = {}
    for path, text in _leaves(member, "", 0):
        found.setdefault(path, []).append(text)
    yield from ((path, texts[0]) for path, texts in found.items() if len(texts) == 1)


def outside(root: Any, rows: str) -> list[tuple[str, str]]:
    """Path and text of every value that does not stand in the list of readings."""
    return [(path, text) for path, text in _leaves(root, "", 0) if rows and not path.startswith(f"{rows}/")]


def _leaves(node: Any, path: str, depth: int) -> Iterator[tuple[str, str]]:
    if depth > MOST_DEPTH:
        return
    if isinstance(node, dict):
        for name, each in node.items():
            if _is_step(name):
                yield from _leaves(each, f"{path}/{name}" if path else name, depth + 1)
    elif isinstance(node, list):
        for each in node:
            yield from _leaves(each, path, depth + 1)
    elif path:
        yield path, _text(node)


def _is_step(name: str) -> bool:
    return bool(name) and "/" not in name


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return value if isinstance(value, str) else ""
