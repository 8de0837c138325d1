"""The outer forms of exports: which module reads which `kind` of a map's [format]."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from gateway.mapping.source import SourceMap
from gateway.read import delimited, fhir, hl7, tree_json, tree_xml, workbook
from gateway.read.extract import Extract


@dataclass(frozen=True, slots=True)
class Form:
    """`claims` looks for the signs of a map, `extract` takes everything out and tells the encoding. Both get the
    content, the map and its [format], which is of the class that belongs to the kind. Both raise Held.
    """

    claims: Callable[[bytes, SourceMap, Any], bool]
    extract: Callable[[bytes, SourceMap, Any], tuple[Extract, str]]


FORMS: Mapping[str, Form] = {
    "delimited": Form(delimited.claims, delimited.extract),
    "workbook": Form(workbook.claims, workbook.extract),
    "hl7": Form(hl7.claims, hl7.extract),
    "fhir": Form(fhir.claims, fhir.extract),
    "xml": Form(tree_xml.claims, tree_xml.extract),
    "json": Form(tree_json.claims, tree_json.extract),
}
