"""A date in the name of a file -> a pattern for names of files, which holds nothing of the name but its signs."""

import re
from dataclasses import dataclass

_DATE = re.compile(r"(?<!\d)(?:\d{8}|\d{4}-\d{2}-\d{2}|\d{2}-\d{2}-\d{4}|\d{2}\.\d{2}\.\d{4})(?!\d)", re.ASCII)
DAY = "Day"
"""what the date is called in the pattern"""


@dataclass(frozen=True, slots=True)
class Named:
    """A pattern as `file_name` of a map takes it, and the text of the date."""

    pattern: str
    day: str


def dated(name: str) -> Named | None:
    """The only date in a name, parted from the rest by one sign on each side; None where there is none such."""
    found = list(_DATE.finditer(name))
    if len(found) != 1:
        return None
    before, day, after = name[: found[0].start()], found[0][0], name[found[0].end() :]
    if not after or after[0] in day or after[0].isalnum():
        return None
    if not before:
        return Named(f"{{{DAY}}}{after[0]}*", day)
    sign = before[-1]
    if sign in day or sign.isalnum() or sign in "{}*":
        return None
    parts = sign.join("*" for _ in range(before.count(sign)))
    return Named(f"{parts}{sign}{{{DAY}}}{after[0]}*", day)
