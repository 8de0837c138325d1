"""How often something may go wrong before it rests. No clock of its own."""

from collections.abc import Callable
from dataclasses import dataclass, field

HOUR = 3600.0


@dataclass(slots=True)
class Allowance:
    """At most `most` failures within an hour; `clock` counts seconds."""

    most: int
    clock: Callable[[], float]
    _failures: list[float] = field(default_factory=list)

    def failed(self) -> None:
        """One more failure."""
        self._failures = [*self._failures, self.clock()][-self.most :]

    def rest(self) -> float:
        """Seconds until another try is allowed, 0.0 for now."""
        recent = [moment for moment in self._failures if moment > self.clock() - HOUR]
        return recent[0] + HOUR - self.clock() if len(recent) >= self.most else 0.0
