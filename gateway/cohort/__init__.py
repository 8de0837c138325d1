"""Many results as one table for a practice audit: one row per recording, every column with its meaning and unit.

`columns` is the closed list, `rows` turns stored facts into rows, `table` writes them. Nothing here does I/O.
"""

from gateway.cohort.columns import COLUMNS, IDENTIFYING, Column
from gateway.cohort.rows import Cell, pseudonym, row
from gateway.cohort.table import csv

__all__ = ["COLUMNS", "IDENTIFYING", "Cell", "Column", "csv", "pseudonym", "row"]
