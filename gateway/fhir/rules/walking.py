"""Every node of a resource with the path to it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong where. Never holds a value of the person."""

    path: str
    what: str


class Node(NamedTuple):
    """One element: the path, its own name (the list's name for an item of a list), the value."""

    path: str
    name: str
    value: Any


def walk(value: Any, path: str = "", name: str = "") -> list[Node]:
    """The value itself and everything below it, in order."""
    found: list[Node] = []
    _gather(value, path, name, found.append)
    return found


def _gather(value: Any, path: str, name: str, keep: Callable[[Node], None]) -> None:
    keep(Node(path, name, value))
    if isinstance(value, dict):
        before = f"{path}." if path else ""
        for key, item in value.items():
            if isinstance(item, _WITH_PARTS):
                _gather(item, before + key, key, keep)
            else:
                keep(Node(before + key, key, item))
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            _gather(item, f"{path}[{index}]", name, keep)


_WITH_PARTS = (dict, list, tuple)


def mappings(value: Any) -> list[Mapping[str, Any]]:
    """The objects of a list, nothing for anything else."""
    return [item for item in value if isinstance(item, Mapping)] if isinstance(value, list | tuple) else []
