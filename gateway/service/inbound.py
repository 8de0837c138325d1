"""From a settled file in the inbox to a stored original, and where the file goes afterwards."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from enum import Enum
from threading import Event as Signal

from gateway import pipeline
from gateway.model import RecordingState, Rejected, TryLater
from gateway.service.aside import put_aside
from gateway.service.notes import mend_notes, note_of_delivery, seen_before, why_held, write_note
from gateway.service.notices import keep_notices
from gateway.service.pdfs import Pdfs
from gateway.service.sharing import Sharing
from gateway.service.shelves import Move, Shelves
from gateway.settings.sections import Companions, Folders
from gateway.store import Store
from gateway.watch import Arrival, Inbox, InboxHealth, Refusal, Refused, take


class Taken(Enum):
    """What became of one file of the inbox."""

    NEW = "new"
    AGAIN = "again"
    PUT_ASIDE = "put aside"
    """too large to be stored; it lies in `held`"""
    NOT_NOW = "not now"
    """it changed, vanished or cannot be read; it is offered again"""


class Inbound:
    """The inbox side of the service. Files move only after what they hold is safe in the store."""

    def __init__(
        self,
        inbox: Inbox,
        folders: Folders,
        most_stored: int,
        sharing: Sharing | None = None,
        part: str = "inbox",
        companions: Companions | None = None,
    ) -> None:
        self._inbox = inbox
        self._shelves = Shelves(folders)
        self._most_stored = most_stored
        self._sharing = sharing
        self._part = part
        self._pdfs = Pdfs(companions or Companions(), most_stored)
        self._taken: dict[str, Arrival] = {}
        self._told: tuple[float | None, int] = (None, 0)

    @contextmanager
    def watching(self) -> Iterator[None]:
        """Listen to file events while the block runs; without events the sweep still finds everything."""
        with self._inbox:
            yield
        for arrival in self._taken.values():
            self._let_go(arrival)

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
        after it was taken in is only moved. One that another node has in hand is passed over.
        """
        try:
            if self._sharing and not all(map(self._sharing.mine, arrival.files)):
                return Taken.NOT_NOW
            return self._take(arrival, store, now)
        finally:
            for file in arrival.files:
                if not self._in_hand(file):
                    self._let_go(file)

    def _take(self, arrival: Arrival, store: Store, now: datetime) -> Taken:
        unmoved = self._shelves.unmoved.get(arrival.path)
        if unmoved is not None and unmoved.arrival.mark == arrival.mark:
            self._shelves.put(unmoved)
            return Taken.AGAIN
        content = take(arrival, self._most_stored)
        if isinstance(content, Refused):
            if content.why is not Refusal.TOO_LARGE:
                return Taken.NOT_NOW
            put_aside(replace(arrival, companion=None), self._shelves, store, now)
            return Taken.PUT_ASIDE
        companion = self._pdfs.beside(arrival)
        if isinstance(companion, Refused):  # it changed or went meanwhile; both are offered again
            return Taken.NOT_NOW
        if (kept_with := self._pdfs.kept_with(arrival, content, store)) is not None:
            note = seen_before(kept_with, store.story(kept_with).state)
            self._shelves.put(self._by_state(arrival, kept_with, store, note))
            return Taken.AGAIN
        inbox = self._sharing.inbox if self._sharing else None
        receipt = pipeline.take_in(store, content, arrival.path.name, now, inbox, companion)
        if arrival.companion and not receipt.enclosed:  # what is filed is not changed; the PDF goes alone
            self._take(arrival.companion, store, now)
            arrival = replace(arrival, companion=None)
        if receipt.state is RecordingState.RECEIVED:
            self._taken[receipt.recording_id] = arrival
            return Taken.AGAIN if receipt.again else Taken.NEW
        note = seen_before(receipt.recording_id, receipt.state)
        self._shelves.put(self._by_state(arrival, receipt.recording_id, store, note))
        return Taken.AGAIN

    def catch_up(self, store: Store) -> None:
        """Move files that we took in and another node worked on. Alone there are none."""
        for recording_id, arrival in list(self._taken.items()):
            if store.story(recording_id).state is not RecordingState.RECEIVED:
                del self._taken[recording_id]
                self._shelves.put(self._by_state(arrival, recording_id, store, ""))
                self._let_go(arrival)

    def _by_state(self, arrival: Arrival, recording_id: str, store: Store, note: str) -> Move:
        """Where a file goes whose fate is known; `note` lies beside it in `done`."""
        story = store.story(recording_id)
        if story.hold is not None and story.state is RecordingState.HELD:
            return Move(arrival, recording_id, self._shelves.held, why_held(story.hold, recording_id))
        return Move(arrival, recording_id, self._shelves.done, note)

    def _in_hand(self, file: Arrival) -> bool:
        taken = {(each.path, each.mark) for arrival in self._taken.values() for each in arrival.files}
        return (file.path, file.mark) in taken or file.path in self._shelves.unmoved

    def _let_go(self, arrival: Arrival) -> None:
        if self._sharing:
            for file in arrival.files:
                self._sharing.let_go(file)

    def place(self, processed: pipeline.Processed) -> None:
        """Move the file whose fate is decided: to `done`, or to `held` with a note that says why."""
        arrival = self._taken.pop(processed.recording_id, None)
        if processed.hold is None:
            self._shelves.unhold(processed.recording_id)
            if arrival is not None:
                self._shelves.put(Move(arrival, processed.recording_id, self._shelves.done, ""))
                self._let_go(arrival)
            return
        note = why_held(processed.hold, processed.recording_id)
        if arrival is not None:
            self._shelves.put(Move(arrival, processed.recording_id, self._shelves.held, note))
            self._let_go(arrival)
        self._shelves.renote(processed.recording_id, note)

    def answered(self, sent: pipeline.Sent, store: Store) -> None:
        """A delivery that waits for a person gets a note in `held`; the note goes when the delivery goes on."""
        if isinstance(sent.answer, TryLater):
            return
        if self._sharing and store.inbox_of(sent.recording_id) not in (None, self._sharing.inbox):
            return  # the node that watches that inbox writes it
        name = store.story(sent.recording_id).name
        note = note_of_delivery(self._shelves.held, name, sent.recording_id, sent.destination)
        if isinstance(sent.answer, Rejected):
            write_note(note, why_held(sent.answer.hold, sent.recording_id))
        else:
            note.unlink(missing_ok=True)

    def tell(self, store: Store, now: datetime, left: int = 0) -> None:
        """Note the time of the last full listing, once for each; `left`: how many files are still to be taken."""
        health = self._inbox.health()
        if (health.last_sweep, left) == self._told and not health.alarm:
            return
        self._told = (health.last_sweep, left)
        detail: dict[str, object] = {
            "unfinished": health.waiting,
            "left": left,
            "unopened": health.unopened,
            "refused": health.refused,
            "events": health.events,
        }
        if health.alarm:
            detail["alarm"] = health.alarm
        age = health.age(time.monotonic()) or 0.0
        store.set_health(self._part, now - timedelta(seconds=age), detail)
        if not left:  # while many are taken in, nobody has to wait for this
            items = store.held()
            self._shelves.clear_decided(store, items)
            mend_notes(store, self._shelves.held, self._sharing.inbox if self._sharing else None, items)

    def keep_notices(self, store: Store) -> None:
        """A file in `held` for each withdrawal that the clinicians must be told of."""
        keep_notices(store, self._shelves.held, self._shelves.done)
