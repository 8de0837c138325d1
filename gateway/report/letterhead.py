"""What the report needs to know beside the recording and its summary."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Paper(StrEnum):
    """Paper sizes; the value is Typst's name."""

    A4 = "a4"
    LETTER = "us-letter"


@dataclass(frozen=True, slots=True, kw_only=True)
class Letterhead:
    """Choices of the site for every report.

    `language` names a file of `words`; the summary comes in that language already (`gateway.analyse.telling`).
    `kpa` prints kilopascal beside mmHg, `readings` adds the pages with every reading. `fingerprint` is a short
    text that finds this recording again; empty: the SHA-256 of the file is printed. `signed_off_by` empty: the
    page is headed "automated, not yet reviewed". `analysed_on` is printed on historical recordings;
    `replaces_on` is the day of the result that this one corrects.
    """

    organisation: str = ""
    software: str = ""
    paper: Paper = Paper.A4
    language: str = "en"
    kpa: bool = False
    readings: bool = False
    fingerprint: str = ""
    signed_off_by: str = ""
    signed_off_on: date | None = None
    analysed_on: date | None = None
    replaces_on: date | None = None
