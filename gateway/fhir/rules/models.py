"""The FHIR models of `fhir.resources`, as a second pair of eyes. R4B, because the library has no R4.

For every resource that we file, R4B has the same elements and cardinalities as R4 4.0.1 (compared against the R4
JSON schema and StructureDefinitions); its own top level is R5 and must not be used. It is no validator: see the
other modules of this package for what it lets through. Imported on first use, because it costs most of a second.
"""

from collections.abc import Iterator, Mapping
from functools import cache
from importlib import import_module
from typing import Any

from pydantic import BaseModel, ValidationError

from gateway.fhir.content import written
from gateway.fhir.rules.walking import Fault

MODULES = {
    "Observation": "observation",
    "DiagnosticReport": "diagnosticreport",
    "DocumentReference": "documentreference",
    "Device": "device",
    "Binary": "binary",
    "Provenance": "provenance",
    "Bundle": "bundle",
}


def model_faults(body: Mapping[str, Any]) -> Iterator[Fault]:
    """What the models say, without any value."""
    kind = str(body.get("resourceType"))
    if kind not in MODULES:
        yield Fault("resourceType", "is not one that we file")
        return
    try:
        content = written(dict(body))
    except TypeError as error:
        yield Fault("", str(error))
        return
    try:
        _model(kind).model_validate_json(content)
    except ValidationError as error:
        for item in error.errors(include_input=False, include_url=False, include_context=False):
            yield Fault(".".join(str(part) for part in item["loc"]), f"breaks the R4 model ({item['type']})")
    except (KeyError, TypeError, ValueError, AttributeError) as error:  # the library's own way to refuse odd shapes
        yield Fault("", f"breaks the R4 model ({type(error).__name__})")


@cache
def _model(kind: str) -> type[BaseModel]:
    module = import_module(f"fhir.resources.R4B.{MODULES[kind]}")
    model: type[BaseModel] = getattr(module, kind)
    return model
