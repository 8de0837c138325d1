"""The outer forms of exports: which module reads which `kind` of a map's [format]."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from gateway.mapping.source import SourceMap
from gateway.read import delimited, fhir, fixed_width, hl7, tree_json, tree_xml, workbook
from gateway.read.extract import Extract
from gateway.read.opened import Opened


@dataclass(frozen=True, slots=True)
class Form:
    """`claims` looks for the signs of a map, `extract` takes everything out and tells the encoding. Both get the
    file, the map and its [format], which is of the class that belongs to the kind. Both raise Held.
    """

    claims: Callable[[Opened, SourceMap, Any], bool]
    extract: Callable[[Opened, SourceMap, Any], tuple[Extract, str]]


FORMS: Mapping[str, Form] = {
    "delimited": Form(delimited.claims, delimited.extract),
    "fixed-width": Form(fixed_width.claims, fixed_width.extract),
    "workbook": Form(workbook.claims, workbook.extract),
    "hl7": Form(hl7.claims, hl7.extract),
    "fhir": Form(fhir.claims, fhir.extract),
    "xml": Form(tree_xml.claims, tree_xml.extract),
    "json": Form(tree_json.claims, tree_json.extract),
}
