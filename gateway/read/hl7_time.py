"""Dates and times of HL7 version 2 (v2.5.1, 2.A.22: YYYYMMDDHHMM[SS[.SSSS]][+/-ZZZZ]) -> ISO 8601."""

import re

from gateway.model import HoldReason
from gateway.read.held import Held

_MOMENT = re.compile(r"(\d{4})(\d{2})(\d{2})(?:(\d{2})(\d{2})(?:(\d{2})(?:\.\d{1,4})?)?)?([+-]\d{4})?", re.ASCII)


def iso(raw: str, line: int) -> str:
    """The same in ISO 8601, "" for a blank one. Raises Held for any other form, a month alone too."""
    if not raw:
        return ""
    found = _MOMENT.fullmatch(raw)
    if found is None:
        raise Held(HoldReason.TIME_UNREADABLE, f"segment {line}")
    year, month, day, hour, minute, second, offset = found.groups()
    clock = "" if hour is None else f"T{hour}:{minute}:{second or '00'}{offset or ''}"
    return f"{year}-{month}-{day}{clock}"
