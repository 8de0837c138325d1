"""Rows -> the bytes of a Parquet file, for tools that keep the type of each column.

Numbers stay exact: counts are 64-bit integers, statistics decimals (never floats), dates are dates. Each column
carries its meaning and its unit. The library that writes it is large (about 165 MB installed), so it is an extra.
"""

import io
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal

from gateway.cohort.columns import COLUMNS, IDENTIFYING, Column
from gateway.cohort.rows import Cell

DIGITS, PLACES = 18, 6
"""of a decimal column: the p of a rhythm has six decimals, no statistic has more"""


def available() -> bool:
    """Is the library installed that writes Parquet?"""
    try:
        import pyarrow  # noqa: F401
    except ImportError:
        return False
    return True


def parquet(rows: Iterable[Mapping[str, Cell]], identifiers: bool = False) -> bytes:
    """One table in the order of `COLUMNS`; `identifiers` puts `IDENTIFYING` before them.

    Raises ImportError without the extra `parquet`, and pyarrow's errors for a value that is not of its column's type.
    """
    import pyarrow as pa
    from pyarrow import parquet as written

    kinds = {"date": pa.date32(), "count": pa.int64(), "number": pa.decimal128(DIGITS, PLACES), "text": pa.string()}
    columns = (*(IDENTIFYING if identifiers else ()), *COLUMNS)
    lines = list(rows)
    fields = [
        pa.field(one.name, kinds[one.kind], metadata={"meaning": one.meaning, "unit": one.unit}) for one in columns
    ]
    arrays = [
        pa.array([_typed(line.get(one.name), one) for line in lines], kind.type)
        for one, kind in zip(columns, fields, strict=True)
    ]
    out = io.BytesIO()
    written.write_table(pa.Table.from_arrays(arrays, schema=pa.schema(fields)), out)
    return out.getvalue()


def _typed(cell: Cell, column: Column) -> object:
    """The cell as a value of its column; None for what is missing."""
    if cell is None:
        return None
    if column.kind == "date":
        return date.fromisoformat(str(cell))
    if column.kind == "count":
        return int(cell)
    return Decimal(str(cell)) if column.kind == "number" else str(cell)
