"""When is a file finished? Pure: looks and events in, names out. All times are monotonic seconds.

A file that was renamed into place is finished: half a second of rest is enough. One that was closed after writing
mostly is, but some programs open, append and close for every few rows, so it must rest a little longer. A file that
no event tells about (network shares send none) must stay unchanged for the quiet time.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from gateway.watch.listing import Mark


class Ending(StrEnum):
    """How a file was seen to be finished."""

    CLOSED = "closed"
    MOVED_IN = "moved-in"


REST = {Ending.MOVED_IN: 0.5, Ending.CLOSED: 1.5}
"""seconds without change after the event"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One file: its last mark, since when it has not changed, how it ended, until when it is not offered again.

    `handed_out`: it was offered once as it is.
    """

    mark: Mark
    since: float
    ending: Ending | None = None
    not_before: float = 0.0
    handed_out: bool = False

    def rested(self, quiet: float) -> float:
        """From when on the file counts as finished."""
        return self.since + (quiet if self.ending is None else min(quiet, REST[self.ending]))

    def due(self, quiet: float) -> float:
        """From when on it may be handed out."""
        return max(self.rested(quiet), self.not_before)


def observe(
    known: Mapping[str, Seen], files: Mapping[str, Mark], ended: Mapping[str, Ending], now: float
) -> dict[str, Seen]:
    """What is known after one look. Any change, and any event, starts the waiting anew."""
    seen: dict[str, Seen] = {}
    for name, mark in files.items():
        before = known.get(name)
        if name in ended:
            seen[name] = Seen(mark=mark, since=now, ending=ended[name])
        elif before is None or before.mark != mark:
            seen[name] = Seen(mark=mark, since=now)
        else:
            seen[name] = before
    return seen


def finished(known: Mapping[str, Seen], quiet: float, now: float) -> tuple[str, ...]:
    """Names of the finished files, oldest first."""
    names = [name for name, seen in known.items() if seen.due(quiet) <= now]
    return tuple(sorted(names, key=lambda name: (known[name].mark.changed, name)))


def offered(known: Mapping[str, Seen], names: Iterable[str], again: float) -> dict[str, Seen]:
    """What is known after these files were handed out; those still there are handed out again at `again`."""
    return {**known, **{name: replace(known[name], not_before=again, handed_out=True) for name in names}}


def put_off(known: Mapping[str, Seen], until: Mapping[str, float]) -> dict[str, Seen]:
    """What is known when these files, finished as they are, are not handed out before the time given."""
    return {**known, **{name: replace(known[name], not_before=moment) for name, moment in until.items()}}


def next_due(known: Mapping[str, Seen], quiet: float) -> float | None:
    """When the next file may be finished, None when none is waiting."""
    return min((seen.due(quiet) for seen in known.values()), default=None)
