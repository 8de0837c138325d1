"""JSON Schema of a source map, for editors: made from the models, described by their docstrings."""

import inspect
from typing import Any

from gateway.mapping.source import SourceMap
from gateway.mapping.source_place import Coded

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def source_schema() -> dict[str, Any]:
    """The schema that the code itself checks by. Editors for TOML take it as it is."""
    schema = SourceMap.model_json_schema(mode="validation")
    for name, part in schema["$defs"].items():
        if name.startswith("Coded_"):  # a generic with its parameter has no docstring of its own
            part.setdefault("description", inspect.getdoc(Coded))
    return {"$schema": DIALECT, **schema}
