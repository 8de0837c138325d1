"""TOML bytes -> checked model, or every fault at once in words that say what to write instead."""

import tomllib
from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from gateway.errors import MappingError


class Declared(BaseModel):
    """Base of everything that a declarative file may say: frozen, no unknown keys, no silent conversion."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=False, hide_input_in_errors=True)


Model = TypeVar("Model", bound=BaseModel)


def parse(content: bytes, model: type[Model], name: str) -> Model:
    """Parse one declarative file. `name` is the file's name for messages. Raises MappingError."""
    try:
        data = tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise MappingError([f"{name}: is not UTF-8 text (byte {error.start}); save it as UTF-8"]) from None
    except tomllib.TOMLDecodeError as error:
        raise MappingError([f"{name}: is not TOML: {error}"]) from None
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise MappingError([f"{name}: {line}" for line in faults(error, model)]) from None


def faults(error: ValidationError, model: type[BaseModel]) -> Iterator[str]:
    """One line for each fault: the place, what is wrong, and the nearest right word for an unknown key."""
    for item in error.errors(include_input=False, include_url=False):
        place = ".".join(str(part) for part in item["loc"]) or "(top level)"
        if item["type"] == "extra_forbidden":
            yield f"{place}: unknown key{_nearest(item['loc'], model)}"
        elif item["type"] == "missing":
            yield f"{place}: is missing; it must be given"
        else:
            yield f"{place}: {item['msg'].removeprefix('Value error, ')}"


def _nearest(place: Sequence[int | str], model: type[BaseModel]) -> str:
    known = list(_keys_at(place[:-1], model))
    close = get_close_matches(str(place[-1]), known, n=1)
    if close:
        return f"; did you mean '{close[0]}'?"
    return f"; known here: {', '.join(sorted(known))}" if known else ""


def _keys_at(place: Sequence[int | str], model: type[BaseModel]) -> list[str]:
    """Names that the schema allows at a place, found by walking the JSON Schema of the model."""
    schema = model.model_json_schema()
    nodes = [schema]
    for part in place:
        nodes = [child for node in nodes for child in _children(node, part, schema)]
    return sorted({key for node in nodes for flat in _flat(node, schema) for key in flat.get("properties", {})})


def _children(node: dict[str, Any], part: int | str, root: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for flat in _flat(node, root):
        if isinstance(part, int):
            if isinstance(items := flat.get("items"), dict):
                yield items
        elif part in flat.get("properties", {}):
            yield flat["properties"][part]
        elif isinstance(extra := flat.get("additionalProperties"), dict):
            yield extra
        else:  # the tag of a discriminated union stands in the place but not in the schema
            yield flat


def _flat(node: dict[str, Any], root: dict[str, Any]) -> Iterator[dict[str, Any]]:
    if "$ref" in node:
        yield from _flat(root["$defs"][node["$ref"].rsplit("/", 1)[-1]], root)
    for word in ("anyOf", "oneOf", "allOf"):
        for child in node.get(word, []):
            yield from _flat(child, root)
    if "properties" in node or "items" in node or "additionalProperties" in node:
        yield node
