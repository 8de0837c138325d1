"""The database's own clock: the only one by which leases end, so that nodes with wrong clocks cannot hurt."""

from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement
from sqlalchemy.types import Double


class database_now(FunctionElement[float]):  # noqa: N801  (named like the SQL functions it stands beside)
    """Seconds since 1970 by the database's clock, now and not at the transaction's begin."""

    type = Double()
    inherit_cache = True


@compiles(database_now, "sqlite")
def _sqlite(element: database_now, compiler: SQLCompiler, **_: object) -> str:  # noqa: ARG001
    # unixepoch('subsec') would be plainer, but gives NULL before SQLite 3.42
    return "((julianday('now') - 2440587.5) * 86400.0)"


@compiles(database_now, "postgresql")
def _postgresql(element: database_now, compiler: SQLCompiler, **_: object) -> str:  # noqa: ARG001
    return "CAST(extract(epoch FROM clock_timestamp()) AS DOUBLE PRECISION)"
