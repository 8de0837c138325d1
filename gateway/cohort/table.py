"""Rows -> the bytes of a CSV file (RFC 4180, UTF-8, point as decimal mark, empty for missing)."""

from collections.abc import Iterable, Mapping

from gateway.cohort.columns import COLUMNS, IDENTIFYING
from gateway.cohort.rows import Cell


def csv(rows: Iterable[Mapping[str, Cell]], identifiers: bool = False) -> bytes:
    """A header and a line for each row, in the order of `COLUMNS`; `identifiers` puts `IDENTIFYING` before them."""
    import pandas as pd

    names = [column.name for column in (*(IDENTIFYING if identifiers else ()), *COLUMNS)]
    # object columns: an exact decimal or a number with leading zeros must never become a float
    frame = pd.DataFrame([[row.get(name) for name in names] for row in rows], columns=names, dtype=object)
    text: str = frame.to_csv(index=False, na_rep="", lineterminator="\r\n")
    return text.encode()
