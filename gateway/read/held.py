"""The way out of a file that cannot be read: carried up to `read`, which returns it as a value."""

from collections.abc import Sequence

from gateway.model import Hold, HoldReason


class Held(Exception):  # noqa: N818  (a hold is no error, and never leaves this package)
    """Nothing more can be read; `hold` says why. Raised many levels deep, caught once, in `read`."""

    def __init__(self, reason: HoldReason, detail: str = "") -> None:
        self.hold = Hold(reason=reason, detail=detail)
        super().__init__(reason.value)


def rows_named(rows: Sequence[int]) -> str:
    """Row numbers for a sentence, the first five of them: "row 12", "rows 12, 13 and 4 more"."""
    shown = ", ".join(str(row) for row in rows[:5])
    more = f" and {len(rows) - 5} more" if len(rows) > 5 else ""
    return f"{'row' if len(rows) == 1 else 'rows'} {shown}{more}"
