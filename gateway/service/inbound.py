"""From a settled file in the inbox to a stored original, and where the file goes afterwards."""

import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import Enum
from hashlib import sha256
from pathlib import Path
from threading import Event as Signal

from gateway import pipeline
from gateway.model import Event, EventKind, Hold, HoldReason, RecordingState, Rejected, TryLater
from gateway.service.notices import keep_notices
from gateway.settings.sections import Folders
from gateway.store import Store
from gateway.watch import Arrival, Inbox, InboxHealth, Refusal, Refused, put_away, take

SHOWN = 8
"""Letters of a recording's number that stand in file names; enough to find it with `status`."""


NOTE = ".why.txt"
_MARK = re.compile(rf"\.([0-9a-f]{{{SHOWN}}})\.")


class Taken(Enum):
    """What became of one file of the inbox."""

    NEW = "new"
    AGAIN = "again"
    PUT_ASIDE = "put aside"
    """too large to be stored; it lies in `held`"""
    NOT_NOW = "not now"
    """it changed, vanished or cannot be read; it is offered again"""


@dataclass(frozen=True, slots=True)
class Move:
    """Where a file goes that was taken in, and the note beside it ("" for none)."""

    arrival: Arrival
    recording_id: str
    folder: Path
    note: str


class Inbound:
    """The inbox side of the service. Files move only after what they hold is safe in the store."""

    def __init__(self, inbox: Inbox, folders: Folders, most_stored: int) -> None:
        self._inbox = inbox
        self._folders = folders
        self._most_stored = most_stored
        self._taken: dict[str, Arrival] = {}
        self._unmoved: dict[Path, Move] = {}
        self._told_sweep: float | None = None

    @contextmanager
    def watching(self) -> Iterator[None]:
        """Listen to file events while the block runs; without events the sweep still finds everything."""
        with self._inbox:
            yield

    def settled(self) -> tuple[Arrival, ...]:
        """Files that are complete, oldest first."""
        return self._inbox.settled(time.monotonic())

    def wait(self, seconds: float, stop: Signal) -> None:
        """Sleep until something may have happened in the inbox, `stop` is set, or the time is over."""
        self._inbox.wait(seconds, stop)

    @property
    def health(self) -> InboxHealth:
        """Figures of the watcher."""
        return self._inbox.health()

    def take(self, arrival: Arrival, store: Store, now: datetime) -> Taken:
        """Store one file (T1). A file seen before is put away at once with a note; one that could not be moved
        after it was taken in is only moved.
        """
        unmoved = self._unmoved.get(arrival.path)
        if unmoved is not None and unmoved.arrival.mark == arrival.mark:
            self._put(unmoved)
            return Taken.AGAIN
        content = take(arrival, self._most_stored)
        if isinstance(content, Refused):
            return self._refused(arrival, content, store, now)
        receipt = pipeline.take_in(store, content, arrival.path.name, now)
        if receipt.state is RecordingState.RECEIVED:
            self._taken[receipt.recording_id] = arrival
            return Taken.AGAIN if receipt.again else Taken.NEW
        hold = store.story(receipt.recording_id).hold
        if receipt.state is RecordingState.HELD and hold is not None:
            note = _why_held(hold, receipt.recording_id)
            self._put(Move(arrival, receipt.recording_id, self._folders.held, note))
        else:
            note = _seen_before(receipt.recording_id, receipt.state)
            self._put(Move(arrival, receipt.recording_id, self._folders.done, note))
        return Taken.AGAIN

    def place(self, processed: pipeline.Processed) -> None:
        """Move the file whose fate is decided: to `done`, or to `held` with a note that says why."""
        arrival = self._taken.pop(processed.recording_id, None)
        if processed.hold is None:
            self._unhold(processed.recording_id)
            if arrival is not None:
                self._put(Move(arrival, processed.recording_id, self._folders.done, ""))
            return
        note = _why_held(processed.hold, processed.recording_id)
        if arrival is not None:
            self._put(Move(arrival, processed.recording_id, self._folders.held, note))
        for old in self._lying(processed.recording_id):  # released, and held again for another reason
            if old.name.endswith(NOTE):
                old.write_text(note, encoding="utf-8")

    def answered(self, sent: pipeline.Sent, store: Store) -> None:
        """A delivery that waits for a person gets a note in `held`; the note goes when the delivery goes on."""
        if isinstance(sent.answer, TryLater):
            return
        name = Path(store.story(sent.recording_id).name).stem
        note = self._folders.held / f"{name}.{sent.recording_id[:SHOWN]}.{sent.destination}{NOTE}"
        if isinstance(sent.answer, Rejected):
            note.write_text(_why_held(sent.answer.hold, sent.recording_id), encoding="utf-8")
        else:
            note.unlink(missing_ok=True)

    def tell(self, store: Store, now: datetime) -> None:
        """Note the time of the last full listing, once for each."""
        health = self._inbox.health()
        if health.last_sweep == self._told_sweep and not health.alarm:
            return
        self._told_sweep = health.last_sweep
        detail: dict[str, object] = {
            "unfinished": health.waiting,
            "unopened": health.unopened,
            "refused": health.refused,
            "events": health.events,
        }
        if health.alarm:
            detail["alarm"] = health.alarm
        age = health.age(time.monotonic()) or 0.0
        store.set_health("inbox", now - timedelta(seconds=age), detail)
        self._clear_refused(store)

    def keep_notices(self, store: Store) -> None:
        """A file in `held` for each withdrawal that the clinicians must be told of."""
        keep_notices(store, self._folders.held, self._folders.done)

    def _clear_refused(self, store: Store) -> None:
        """What a person refused leaves `held`; the file is kept in `done`."""
        marks = {found[1] for note in self._folders.held.glob(f"*{NOTE}") if (found := _MARK.search(note.name))}
        for mark in marks:
            recording_id = store.find(mark)
            if isinstance(recording_id, str) and store.story(recording_id).state is RecordingState.REFUSED:
                self._unhold(recording_id)

    def _put(self, move: Move) -> None:
        """Move one file. When that fails it is remembered, so that the next look only moves it."""
        self._unmoved[move.arrival.path] = move
        path = Path(move.arrival.path.name)
        placed = put_away(move.arrival, move.folder, f"{path.stem}.{move.recording_id[:SHOWN]}{path.suffix}")
        del self._unmoved[move.arrival.path]
        if placed is not None and move.note:
            placed.with_name(f"{placed.name}{NOTE}").write_text(move.note, encoding="utf-8")

    def _lying(self, recording_id: str) -> list[Path]:
        """What lies in `held` for one recording: its file and its notes."""
        return list(self._folders.held.glob(f"*.{recording_id[:SHOWN]}*"))

    def _unhold(self, recording_id: str) -> None:
        """A released or refused recording: its file leaves `held`, its notes go."""
        for file in self._lying(recording_id):
            if file.name.endswith(NOTE):
                file.unlink(missing_ok=True)
            else:
                put_away(file, self._folders.done, file.name)

    def _refused(self, arrival: Arrival, refused: Refused, store: Store, now: datetime) -> Taken:
        """A file too large to be stored is put aside unread; everything else is offered again by the inbox."""
        if refused.why is not Refusal.TOO_LARGE:
            return Taken.NOT_NOW
        mark = sha256(arrival.path.name.encode("utf-8", "surrogateescape")).hexdigest()
        detail: dict[str, object] = {
            "reason": HoldReason.FILE_TOO_LARGE.value,
            "bytes": arrival.size,
            "name": mark[:16],
        }
        self._put(Move(arrival, mark, self._folders.held, _why_held(Hold(reason=HoldReason.FILE_TOO_LARGE), "")))
        store.record(Event(kind=EventKind.HELD, at=now, actor=pipeline.ACTOR, detail=detail))
        return Taken.PUT_ASIDE


def _why_held(hold: Hold, recording_id: str) -> str:
    """The note that lies beside a held file, for the nurse."""
    number = f"Number: {recording_id[:SHOWN]}\n" if recording_id else ""
    return f"{hold.sentence}\nWhat to do: {hold.action}\n{number}"


def _seen_before(recording_id: str, state: RecordingState) -> str:
    """The note beside a file that was taken in before."""
    return (
        "This very file was taken in before; nothing was filed a second time.\n"
        f"Number: {recording_id[:SHOWN]}, state: {state}\n"
    )
