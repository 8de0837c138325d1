"""What is wrong with the settings, and what to write instead. The value itself is never shown: it may be a secret."""

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from gateway.mapping.parse import faults
from gateway.settings.sections import Settings

Place = tuple[str, ...]

WRITE_INSTEAD = {
    "bool": "write true or false",
    "int": "write a whole number",
    "float": "write a number",
    "decimal": "write a number",
    "string": "write text in quotes",
    "path": 'write a path in quotes, for example "/var/lib/bp-gateway/inbox"',
    "time": 'write a time of day in quotes, for example "07:00"',
    "url": 'write a whole address in quotes, for example "https://fhir.example.org/R4"',
    "dict": "write a table",
    "model": "write a table: its keys under a heading in square brackets",
    "tuple": "write a list in square brackets",
    "list": "write a list in square brackets",
}
"""by the first word of pydantic's error type (bool_parsing, int_type …)"""


def problems_of(error: ValidationError, data: Mapping[str, Any], origins: Mapping[Place, str]) -> Iterator[str]:
    """One line for each problem: where (file key, variable or credential file), what, and what to write instead."""
    details = error.errors(include_input=False, include_url=False, include_context=False)
    for item, line in zip(details, faults(error, Settings), strict=True):
        where, known = _where(item["loc"], data, origins)
        said = line.split(": ", 1)[1]
        kind = str(item["type"])
        instead = WRITE_INSTEAD.get(kind.split("_")[0])
        if instead and kind.endswith(("_parsing", "_type", "_from_float")):
            said = instead
        elif kind == "missing":
            said = "is missing"
        said = said.replace("Input should be", "write")
        yield f"{known or where}: {said}" if where else said


def _where(
    place: tuple[int | str, ...], data: Mapping[str, Any], origins: Mapping[Place, str]
) -> tuple[str, str | None]:
    """The key as it stands in the file, with a destination's name for its number, and the variable that set it."""
    parts: list[str] = []
    at: Any = data
    for index, part in enumerate(place):
        if isinstance(at, list) and isinstance(part, int) and part < len(at):
            at = at[part]
            name = at.get("name") if isinstance(at, Mapping) else None
            parts.append(name if isinstance(name, str) else f"number {part + 1}")
        elif isinstance(at, Mapping) and part not in at and index < len(place) - 1:
            continue  # the kind of a union stands in the place, not in the file
        else:
            at = at.get(part) if isinstance(at, Mapping) else None
            parts.append(str(part))
    key = tuple(parts)
    named = (key[0], key[1].lower().replace("-", "_"), *key[2:]) if len(key) > 2 else key
    return ".".join(parts), origins.get(named) or _origin_below(named, origins)


def _origin_below(key: Place, origins: Mapping[Place, str]) -> str | None:
    """The variable that made an unknown section: the fault stands at the section, the variable names a key in it."""
    return next((origin for place, origin in origins.items() if key and place[: len(key)] == key), None)
