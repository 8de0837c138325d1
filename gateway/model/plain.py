"""Values as JSON for scripts: exact numbers, missing is null, enums as their text."""

from decimal import Decimal

import orjson


def plain_json(value: object) -> bytes:
    """Indented JSON of dataclasses, mappings, lists and plain values, in a stable order.

    120 stays 120 and 120.5 stays 120.5; nothing goes through a float. Raises TypeError for anything else.
    """
    return orjson.dumps(value, default=_exact, option=orjson.OPT_INDENT_2 | orjson.OPT_NON_STR_KEYS)


def _exact(value: object) -> orjson.Fragment:
    if isinstance(value, Decimal):
        return orjson.Fragment(format(value, "f").encode())
    raise TypeError(f"{type(value).__name__} has no exact form in JSON")
