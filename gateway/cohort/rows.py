"""Stored facts of one recording -> one row."""

import hmac
import json
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from hashlib import sha256
from typing import Any

from gateway.cohort.columns import COLUMNS, RESULTS, column_name
from gateway.model import PeriodName

Cell = str | int | Decimal | None
OLDEST = 90
"""Ages from here on are one class: so few people are that old that an age alone could name one (common practice)."""


def pseudonym(store_key: bytes, kind: str, opaque: str) -> str:
    """A number that stands for a person or a recording in tables only (HMAC-SHA-256, RFC 2104).

    It is not the number under which anything is filed, and nobody gets from one to the other without the store's key.
    """
    return hmac.new(store_key, f"table {kind} {opaque}".encode(), sha256).hexdigest()[:32]


def row(facts: bytes, person: str, recording: str, delivered: bool) -> dict[str, Cell] | None:
    """All columns of one recording, the identifying ones too; None where the facts hold no result.

    `person` and `recording` are pseudonyms; numbers are exact as reported, what is missing is None.
    """
    told = json.loads(facts, parse_float=Decimal, parse_int=Decimal)
    read, summary = told.get("recording"), told.get("summary")
    if not read or not summary:
        return None
    began = datetime.fromisoformat(read["began"]).date()
    cells: dict[str, Cell] = {
        "person_pseudonym": person,
        "recording_pseudonym": recording,
        "date": began.isoformat(),
        "age": _age(read["birth_date"], began),
        "delivered": _yes(delivered),
        "days": max((int(one["day"]) for one in summary["periods"]), default=1),
        "monitor_model": _text(read["monitor_model"]),
        "source_map": read["source_map"],
        "guideline": summary["guideline"],
        "review": _yes(bool(summary["review"])),
        "windows": next((one["origin"] for one in summary["periods"]), None),
        "adequacy": summary["adequacy"]["verdict"],
        "findings": " ".join(sorted({one["rule"] for one in told["findings"]})),
        "identifier_system": _text(read["identifier_system"]),
        "identifier": _text(read["identifier"]),
        "birth_date": read["birth_date"],
        "monitor_serial": _text(read["monitor_serial"]),
    }
    return {**cells, **_counts(summary), **_results(summary), **_statistics(summary)}


def _counts(summary: Mapping[str, Any]) -> dict[str, Cell]:
    kinds = ("scheduled", "attempted", "valid", "excluded", "failed", "percent")
    return {
        column_name(kind, PeriodName(one["period"])): one[kind]
        for one in summary["periods"]
        if one["day"] == 1
        for kind in kinds
    }


def _results(summary: Mapping[str, Any]) -> dict[str, Cell]:
    found = {(one["subject"], one["period"]): one["result"] for one in summary["interpretations"] if one["day"] == 1}
    return {column_name(f"{what}-class", period): found.get((what, period)) for what, period in RESULTS}


def _statistics(summary: Mapping[str, Any]) -> dict[str, Cell]:
    found = {(one["name"], one["period"]): one["value"] for one in summary["statistics"] if one["day"] == 1}
    return {column.name: found.get(column.of) for column in COLUMNS if column.of is not None}


def _age(birth_date: str | None, on: date) -> int | None:
    if birth_date is None:
        return None
    born = date.fromisoformat(birth_date)
    years = on.year - born.year - ((on.month, on.day) < (born.month, born.day))
    return min(years, OLDEST)


def _yes(is_so: bool) -> str:
    return "yes" if is_so else "no"


def _text(value: str | None) -> str | None:
    """Text from a file as a spreadsheet shows it and never runs it."""
    return f"'{value}" if value and value[0] in "=+-@\t\r\n" else value
