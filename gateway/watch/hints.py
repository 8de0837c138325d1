"""File-system events. They only make us look sooner and wait less; nothing is taken on their word alone."""

import contextlib
import logging
import sys
import threading
from pathlib import Path
from typing import Any

from watchdog.events import (
    FileClosedEvent,
    FileCreatedEvent,
    FileModifiedEvent,
    FileMovedEvent,
    FileSystemEvent,
    FileSystemEventHandler,
)
from watchdog.observers import Observer
from watchdog.observers.api import BaseObserver

from gateway.watch.settling import Ending

WANTED: list[type[FileSystemEvent]] = [FileClosedEvent, FileCreatedEvent, FileModifiedEvent, FileMovedEvent]


class Hints(FileSystemEventHandler):
    """Collects which files were closed or renamed into place since the last `collect`."""

    def __init__(self, folder: Path) -> None:
        self.arrived = threading.Event()
        """set while there is something to collect"""
        self.restarts = 0
        self._folder = folder
        self._ended: dict[str, Ending] = {}
        self._lock = threading.Lock()
        self._observer: BaseObserver | None = None
        self._place: tuple[int, int] | None = None

    def dispatch(self, event: FileSystemEvent) -> None:
        """Take one event; called by the observer's thread."""
        target = Path(str(event.dest_path or event.src_path))
        with self._lock:
            if isinstance(event, FileMovedEvent) and target.parent == self._folder:
                self._ended[target.name] = Ending.MOVED_IN
            elif isinstance(event, FileClosedEvent):
                self._ended[target.name] = Ending.CLOSED
            else:  # made anew or written to since
                self._ended.pop(target.name, None)
        if not isinstance(event, FileModifiedEvent):  # every few kilobytes of a copy are such an event
            self.arrived.set()

    def collect(self) -> dict[str, Ending]:
        """What ended since the last call, by name."""
        self.arrived.clear()
        with self._lock:
            ended, self._ended = self._ended, {}
        return ended

    def keep_alive(self, place: tuple[int, int]) -> bool:
        """See to it that the folder at `place` (device, inode) is observed; False when that is not possible.

        Observers end silently when the folder is removed or made anew, so they are compared with it at every look.
        """
        if self._observer is not None and self._place == place and self._alive(self._observer):
            return True
        self.restarts += self._place is not None
        self.stop()
        self._place = place
        try:
            self._observer = self._start()
        except OSError:  # out of watches, or a file system without events: the sweep does the work
            self._observer = None
        return self._observer is not None

    def stop(self) -> None:
        """End the observer's threads."""
        observer, self._observer = self._observer, None
        if observer is not None:
            observer.stop()
            with contextlib.suppress(RuntimeError):  # it never began
                observer.join(timeout=5)

    def _start(self) -> BaseObserver:
        # full events tell a file that was moved in from elsewhere from one that is only just being created
        logging.getLogger("watchdog").setLevel(logging.CRITICAL)  # it logs paths, and a file name may hold a person's
        options: dict[str, Any] = {"generate_full_events": True} if sys.platform == "linux" else {}
        observer = Observer(**options)
        observer.schedule(self, str(self._folder), recursive=False, event_filter=WANTED)
        observer.start()
        return observer

    @staticmethod
    def _alive(observer: BaseObserver) -> bool:
        return (
            observer.is_alive()
            and all(emitter.is_alive() for emitter in observer.emitters)
            and bool(observer.emitters)
        )
