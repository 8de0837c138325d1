"""The database's own clock: the only one by which leases end, so that nodes with wrong clocks cannot hurt.

A clock may have been wrong and be put right: what was written in our future was written by a clock that stood ahead.
"""

from datetime import timedelta
from typing import Any

from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement
from sqlalchemy.types import Double


class database_now(FunctionElement[float]):  # noqa: N801  (named like the SQL functions it stands beside)
    """Seconds since 1970 by the database's clock, now and not at the transaction's begin."""

    type = Double()
    inherit_cache = True


LONGEST_LEASE = timedelta(hours=1)
"""No lease is given for so long; one that ends later was given while the database's clock stood ahead."""
AGREED = timedelta(minutes=1)
"""So far the clocks of nodes may differ; beyond it, what was changed in our future was changed by a wrong clock."""


def ended(lease_until: Any) -> Any:
    """Is this lease over, by the database's clock as it stands now?"""
    now = database_now()
    return (lease_until <= now) | (lease_until > now + LONGEST_LEASE.total_seconds())


@compiles(database_now, "sqlite")
def _sqlite(element: database_now, compiler: SQLCompiler, **_: object) -> str:  # noqa: ARG001
    # unixepoch('subsec') would be plainer, but gives NULL before SQLite 3.42
    return "((julianday('now') - 2440587.5) * 86400.0)"


@compiles(database_now, "postgresql")
def _postgresql(element: database_now, compiler: SQLCompiler, **_: object) -> str:  # noqa: ARG001
    return "CAST(extract(epoch FROM clock_timestamp()) AS DOUBLE PRECISION)"
