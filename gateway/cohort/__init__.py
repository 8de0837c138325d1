"""Many results as one table for a practice audit: one row per recording, every column with its meaning and unit.

`columns` is the closed list, `rows` turns stored facts into rows, `table` and `parquet` write them; nothing does I/O.
"""

from gateway.cohort.columns import COLUMNS, IDENTIFYING, Column
from gateway.cohort.parquet import available as parquet_available
from gateway.cohort.parquet import parquet
from gateway.cohort.rows import Cell, pseudonym, row
from gateway.cohort.table import csv

__all__ = ["COLUMNS", "IDENTIFYING", "Cell", "Column", "csv", "parquet", "parquet_available", "pseudonym", "row"]
