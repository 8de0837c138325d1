"""From a settled file in the inbox to a stored original, and where the file goes afterwards."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path
from threading import Event as Signal

from gateway import pipeline
from gateway.model import Event, EventKind, Hold, HoldReason, RecordingState, Rejected, TryLater
from gateway.settings.sections import Folders
from gateway.store import Store
from gateway.watch import Arrival, Inbox, InboxHealth, Refusal, Refused, put_away, take

SHOWN = 8
"""Letters of a recording's number that stand in file names; enough to find it with `status`."""


NOTE = ".why.txt"


class Inbound:
    """The inbox side of the service. Files move only after what they hold is safe in the store."""

    def __init__(self, inbox: Inbox, folders: Folders, most_stored: int) -> None:
        self._inbox = inbox
        self._folders = folders
        self._most_stored = most_stored
        self._taken: dict[str, Arrival] = {}
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

    def take(self, arrival: Arrival, store: Store, now: datetime) -> bool:
        """Store one file (T1). True when it is new; a file seen before is put away at once with a note."""
        content = take(arrival, self._most_stored)
        if isinstance(content, Refused):
            self._refused(arrival, content, store, now)
            return False
        receipt = pipeline.take_in(store, content, arrival.path.name, now)
        if receipt.state is RecordingState.RECEIVED:
            self._taken[receipt.recording_id] = arrival
            return not receipt.again
        folder = self._folders.held if receipt.state is RecordingState.HELD else self._folders.done
        self._put(arrival, receipt.recording_id, folder, _seen_before(receipt.recording_id, receipt.state))
        return False

    def place(self, processed: pipeline.Processed) -> None:
        """Move the file whose fate is decided: to `done`, or to `held` with a note that says why."""
        arrival = self._taken.pop(processed.recording_id, None)
        if processed.hold is None:
            self._unhold(processed.recording_id)
        if arrival is None:  # it came in an earlier life of the service, or was named on the command line
            return
        if processed.hold is None:
            self._put(arrival, processed.recording_id, self._folders.done, "")
        else:
            note = _why_held(processed.hold, processed.recording_id)
            self._put(arrival, processed.recording_id, self._folders.held, note)

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
        detail: dict[str, object] = {"unfinished": health.waiting, "refused": health.refused, "events": health.events}
        if health.alarm:
            detail["alarm"] = health.alarm
        age = health.age(time.monotonic()) or 0.0
        store.set_health("inbox", now - timedelta(seconds=age), detail)

    def _put(self, arrival: Arrival, recording_id: str, folder: Path, note: str) -> None:
        path = Path(arrival.path.name)
        placed = put_away(arrival, folder, f"{path.stem}.{recording_id[:SHOWN]}{path.suffix}")
        if placed is not None and note:
            placed.with_name(f"{placed.name}{NOTE}").write_text(note, encoding="utf-8")

    def _unhold(self, recording_id: str) -> None:
        """A released recording went on: its file leaves `held`, its note goes."""
        for file in self._folders.held.glob(f"*.{recording_id[:SHOWN]}*"):
            if file.name.endswith(NOTE):
                file.unlink(missing_ok=True)
            else:
                put_away(file, self._folders.done, file.name)

    def _refused(self, arrival: Arrival, refused: Refused, store: Store, now: datetime) -> None:
        """A file too large to be stored is put aside unread; everything else is offered again by the inbox."""
        if refused.why is not Refusal.TOO_LARGE:
            return
        mark = sha256(arrival.path.name.encode("utf-8", "surrogateescape")).hexdigest()
        detail: dict[str, object] = {
            "reason": HoldReason.FILE_TOO_LARGE.value,
            "bytes": arrival.size,
            "name": mark[:16],
        }
        store.record(Event(kind=EventKind.HELD, at=now, actor=pipeline.ACTOR, detail=detail))
        self._put(arrival, mark, self._folders.held, _why_held(Hold(reason=HoldReason.FILE_TOO_LARGE), ""))


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
