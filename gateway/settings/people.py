"""Whose recording it is: how numbers are checked, and when a second recording of one person is doubtful."""

import re
from importlib import import_module
from typing import Annotated

from pydantic import AfterValidator, Field

from gateway.mapping.parse import Declared
from gateway.validate.number import PATTERN

NHS_NUMBER = "https://fhir.nhs.uk/Id/nhs-number"


def _checkable(module: str) -> str:
    if module.startswith(PATTERN):
        try:
            re.compile(module.removeprefix(PATTERN))
        except re.error:
            raise ValueError(f"what stands after {PATTERN} is no regular expression") from None
        return module
    if module and not module.replace(".", "").replace("_", "").isalnum():
        raise ValueError(
            'write the name of a python-stdnum module, for example "gb.nhs", "pattern:" and a regular expression, '
            'or "" for no check'
        )
    if module:
        try:
            found = hasattr(import_module(f"stdnum.{module}"), "validate")
        except ImportError:
            found = False
        if not found:
            raise ValueError('python-stdnum has no such module; write for example "gb.nhs", or "" for no check')
    return module


NumberCheck = Annotated[str, AfterValidator(_checkable)]


class Identifiers(Declared):
    """How a person's number is checked, by identifier system (URI)."""

    systems: dict[str, NumberCheck] = Field(default={NHS_NUMBER: "gb.nhs"})
    """python-stdnum module that checks it, "pattern:" and an expression for the whole number, "" for no check"""
    test_numbers: dict[str, str] = Field(default={NHS_NUMBER: r"999\d{7}"})
    """published test ranges, a regular expression for the whole number; 999 000 0000 up is never issued"""
    birth_date_needed: bool = True


class Repeats(Declared):
    """When a second recording of one person is held, because the monitor may not have been set for the new patient.
    Never where the export names an order that asked for no earlier one.
    """

    within_days: int = Field(default=30, ge=0, le=400)
    """days between two recordings of one person; 0: never held for that"""
    same_monitor: bool = True
    """also held, whenever it was, when the monitor delivered this very person last"""
