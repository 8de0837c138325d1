"""Whether a destination is being tried at all, or rests because its server failed again and again."""

from dataclasses import dataclass, field
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """What is remembered of a destination's failures since it last answered as it should.

    `failures` counts attempts at which no server answered, `failing` holds the recordings with which an answering
    server failed. `opened` counts how often in a row it was set to rest, `since` when that began, `until` when one
    delivery may probe; both None while everything is tried. `why`: what the last failure said. `changed`:
    when all this was noted.
    """

    failures: int = 0
    failing: tuple[str, ...] = ()
    opened: int = 0
    since: datetime | None = None
    until: datetime | None = None
    why: str = ""
    changed: datetime | None = field(default=None, compare=False)

    @property
    def count(self) -> int:
        """Failures of the server in a row. One recording counts once, or its own fault would stop all others."""
        return self.failures + len(self.failing)


CLOSED = Circuit()


def resting(circuit: Circuit) -> str:
    """An open circuit in plain words."""
    since = f" since {circuit.since:%Y-%m-%d %H:%M:%S} UTC" if circuit.since else ""
    return f"resting{since} after {circuit.count} failures in a row ({circuit.why})"
