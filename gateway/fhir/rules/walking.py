"""Every node of a resource with the path to it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong where. Never holds a value of the person."""

    path: str
    what: str


@dataclass(frozen=True, slots=True)
class Node:
    """One element: the path, its own name (the list's name for an item of a list), the value."""

    path: str
    name: str
    value: Any


def walk(value: Any, path: str = "", name: str = "") -> Iterator[Node]:
    """The value itself and everything below it."""
    yield Node(path, name, value)
    if isinstance(value, Mapping):
        for key, item in value.items():
            yield from walk(item, f"{path}.{key}" if path else key, key)
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            yield from walk(item, f"{path}[{index}]", name)


def mappings(value: Any) -> list[Mapping[str, Any]]:
    """The objects of a list, nothing for anything else."""
    return [item for item in value if isinstance(item, Mapping)] if isinstance(value, list | tuple) else []
