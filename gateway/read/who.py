"""Whose recording it is: text all the way, nothing converted to a number."""

import re

from gateway.mapping.site import SiteDefaults
from gateway.mapping.source import SourceMap
from gateway.model import HoldReason, Identifier, Person
from gateway.read import preamble, values
from gateway.read.extract import Extract, Figure, Located, folded, seen
from gateway.read.held import Held

_NOTHING = frozenset({"n/a", "n.a.", "na", "none", "null", "nil", "nan", "unknown", "not known", "no number", "tbc"})
_EMPTY_FORM = re.compile(r"[\s0_.?*xX/-]*")  # 000 000 0000, ----------, xxxxxxxxxx
_SPREADSHEET = re.compile(r"[+-]?\d+([.,]\d+)?[eE][+-]?\d+|\d+[.,]0+", re.ASCII)


def person(file: Extract, source: SourceMap, defaults: SiteDefaults) -> Person:
    """The person as the file names them. Raises Held."""
    places = source.person
    return Person(
        identifier=identifier(file, source, defaults),
        family_name=preamble.text("person.family_name", file, places.family_name),
        given_name=preamble.text("person.given_name", file, places.given_name),
        birth_date=preamble.day("person.birth_date", file, places.birth_date),
        sex=preamble.coded("person.sex", file, places.sex),
    )


def identifier(file: Extract, source: SourceMap, defaults: SiteDefaults) -> Identifier | None:
    """The person's number without invisible characters and blanks around it; None when it is blank, all zeros or a
    word for "none". Raises Held for a number that a spreadsheet has turned into another, and without a system.
    """
    where = preamble.one("person.identifier", file, source.person.identifier)
    value = _whole_number(where, source.person.identifier.digits)
    nothing = _NOTHING | {folded(word) for word in source.person.no_identifier}
    if _EMPTY_FORM.fullmatch(value) or folded(value) in nothing:
        return None
    if _SPREADSHEET.fullmatch(value):
        raise Held(HoldReason.VALUE_UNREADABLE, f"person.identifier, row {where.row}: a spreadsheet has changed it")
    system = preamble.text("person.identifier_system", file, source.person.identifier_system)
    system = seen(system or "") or defaults.identifier_system
    if not system:
        raise Held(HoldReason.IDENTIFIER_SYSTEM_UNKNOWN)
    return Identifier(system, value)


def _whole_number(where: Located, digits: int | None) -> str:
    """The number as text. Raises Held for one that stood as a number of a spreadsheet, unless its length is known."""
    part = "person.identifier"
    value = seen(values.text(part, where) or "")
    if not isinstance(where.text, Figure):
        return value
    if digits is None or not value.isdecimal() or len(value) > digits:
        raise Held(
            HoldReason.VALUE_UNREADABLE, f"{part}, row {where.row}: a number cell may have lost its first zeros"
        )
    return value.zfill(digits)
