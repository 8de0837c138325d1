"""The inbox of exported files."""

import errno
import os
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

from gateway.watch.hints import Hints
from gateway.watch.listing import Arrival, Listing, look
from gateway.watch.pairing import is_pdf, pair, without
from gateway.watch.settling import Ending, Seen, finished, next_due, observe, offered, put_off

SLICE = 0.2
"""seconds after which waiting looks at `stop`"""


@dataclass(frozen=True, slots=True, kw_only=True)
class InboxHealth:
    """How the inbox is. `last_sweep`: monotonic seconds of the last full listing that succeeded, None before it.

    `alarm`: why the folder cannot be relied on, "" when it can. `events`: do file-system events arrive (they only
    save time)? `restarts`: how often their observer had to be started anew. `waiting`: files not yet finished.
    `unopened`: finished files that cannot be opened. `refused`: links, pipes and the like. `ignored`: hidden and
    temporary names, folders.
    """

    last_sweep: float | None
    alarm: str
    events: bool
    restarts: int
    waiting: int
    unopened: int
    refused: int
    ignored: int

    def age(self, now: float) -> float | None:
        """Seconds since the last full listing."""
        return None if self.last_sweep is None else now - self.last_sweep


class Inbox:
    """Watches one folder. Events only make it look sooner: every look is a full listing.

    `quiet`: seconds without change after which a file counts as finished where no event told so. `sweep_every`:
    seconds between two looks that nothing asked for. `pdf_within`: seconds that an export and a PDF of the same stem
    may come apart; None: PDFs are files like any other. One thread calls `settled` and `wait`.
    """

    def __init__(
        self,
        folder: Path,
        quiet: float = 10.0,
        sweep_every: float = 30.0,
        use_events: bool = True,
        pdf_within: float | None = None,
    ) -> None:
        self._folder = folder.resolve()
        self._quiet = quiet
        self._sweep_every = sweep_every
        self._pdf_within = pdf_within
        self._hints = Hints(self._folder) if use_events else None
        self._known: dict[str, Seen] = {}
        self._last: Listing | None = None
        self._last_sweep: float | None = None
        self._alarm = ""
        self._events = False
        self._unopened: frozenset[str] = frozenset()
        self._was_mount = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._hints is not None:
            self._hints.stop()

    def settled(self, now: float) -> tuple[Arrival, ...]:
        """The finished files, oldest first. `now`: monotonic seconds.

        A file that is still there is handed out again after `sweep_every`, so that a failed taking is repeated.
        """
        if not self._must_look(now):
            return ()
        try:
            ended, listing = self._look()
        except OSError as error:  # forget what was seen: after such a break every file must be quiet anew
            self._alarm = f"the inbox cannot be listed ({error.strerror})"
            self._known, self._events = {}, False
            if self._hints is not None:
                self._hints.collect()
            return ()
        self._alarm, self._last_sweep, self._last = "", now, listing
        self._known = observe(self._known, listing.files, ended, now)
        names = finished(self._known, self._quiet, now)
        openable = tuple(name for name in names if _can_be_opened(self._folder / name))
        self._unopened = frozenset(names) - frozenset(openable)
        pairs = self._with_pdfs(openable, now)
        handed_out = [name for both in pairs for name in both if name is not None]
        self._known = offered(self._known, handed_out, now + self._sweep_every)
        self._known = offered(self._known, self._unopened, now + min(self._quiet, self._sweep_every))
        return tuple(self._arrival(name, pdf) for name, pdf in pairs)

    def wait(self, timeout: float, stop: threading.Event) -> None:
        """Return after `timeout` seconds, or sooner: on an event, when a file may be finished, when `stop` is set."""
        begun = time.monotonic()
        due = next_due(self._known, self._quiet)
        until = begun + timeout if due is None else min(begun + timeout, max(due, begun))
        while not stop.is_set() and (left := until - time.monotonic()) > 0:
            if self._hints is None or self._alarm:  # events of a folder that went must not make us ask at once
                stop.wait(min(SLICE, left))
            elif self._hints.arrived.wait(min(SLICE, left)):
                return

    def health(self) -> InboxHealth:
        """How the inbox is, for `status` and the health figures."""
        return InboxHealth(
            last_sweep=self._last_sweep,
            alarm=self._alarm,
            events=self._events,
            restarts=self._hints.restarts if self._hints is not None else 0,
            waiting=sum(not seen.handed_out for seen in self._known.values()),
            unopened=len(self._unopened),
            refused=len(self._last.refused) if self._last is not None else 0,
            ignored=self._last.ignored if self._last is not None else 0,
        )

    def _with_pdfs(self, names: tuple[str, ...], now: float) -> tuple[tuple[str, str | None], ...]:
        """Each file with its PDF; those that wait for the other one are put off."""
        if self._pdf_within is None:
            return tuple((name, None) for name in names)
        others = [name for name in self._known if is_pdf(name) and name not in names]
        closed = [name for name in others if not _can_be_opened(self._folder / name)]
        known = without(self._known, self._unopened | set(closed))
        paired = pair(known, names, self._quiet, self._pdf_within, now)
        self._known = put_off(self._known, paired.later)
        return paired.go

    def _arrival(self, name: str, pdf: str | None) -> Arrival:
        mark = self._known[name].mark
        companion = self._arrival(pdf, None) if pdf is not None else None
        return Arrival(path=self._folder / name, size=mark.size, mark=mark, companion=companion)

    def _must_look(self, now: float) -> bool:
        if self._last_sweep is None or self._alarm or now - self._last_sweep >= self._sweep_every:
            return True
        due = next_due(self._known, self._quiet)
        return (due is not None and due <= now) or (self._hints is not None and self._hints.arrived.is_set())

    def _look(self) -> tuple[dict[str, Ending], Listing]:
        """What ended, and one full listing, in this order: an event that comes between them is seen next time."""
        place = self._folder.stat()
        mounted = os.path.ismount(self._folder)
        if self._was_mount and not mounted:
            raise OSError(errno.ENOTCONN, "no longer mounted; what lies in its place is not the inbox")
        self._was_mount = mounted
        ended: dict[str, Ending] = {}
        if self._hints is not None:
            self._events = self._hints.keep_alive((place.st_dev, place.st_ino))
            ended = self._hints.collect()
        return ended, look(self._folder)


def _can_be_opened(path: Path) -> bool:
    """False while another program holds the file locked, or when we may not read it."""
    try:
        os.close(os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC))
    except OSError:
        return False
    return True
