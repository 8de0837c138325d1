"""Every node of a resource with the path to it."""

from collections.abc import Mapping
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
    _gather(value, path, name, found)
    return found


def _gather(value: Any, path: str, name: str, found: list[Node]) -> None:
    found.append(Node(path, name, value))
    if isinstance(value, dict):
        for key, item in value.items():
            _gather(item, f"{path}.{key}" if path else key, key, found)
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            _gather(item, f"{path}[{index}]", name, found)


def mappings(value: Any) -> list[Mapping[str, Any]]:
    """The objects of a list, nothing for anything else."""
    return [item for item in value if isinstance(item, Mapping)] if isinstance(value, list | tuple) else []
