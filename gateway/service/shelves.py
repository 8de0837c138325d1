"""The folders `done` and `held`: where files go once their fate is known. Other nodes may use the same folders."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from gateway.model import RecordingState
from gateway.service.notes import NOTE, SHOWN, marked, waiting_whole, write_note
from gateway.settings.sections import Folders
from gateway.store import HeldItem, Store
from gateway.watch import Arrival, put_away


@dataclass(frozen=True, slots=True)
class Move:
    """Where a file goes that was taken in, and the note beside it ("" for none)."""

    arrival: Arrival
    recording_id: str
    folder: Path
    note: str


class Shelves:
    """Moves files, and never loses or overwrites one. A file that another node moved first is no fault."""

    def __init__(self, folders: Folders) -> None:
        self.done = folders.done
        self.held = folders.held
        self.unmoved: dict[Path, Move] = {}

    def put(self, move: Move) -> None:
        """Move one file. When that fails it is remembered, so that the next look only moves it."""
        self.unmoved[move.arrival.path] = move
        if move.arrival.companion:  # first, so that it is never left behind alone
            _quietly(move.arrival.companion, move.folder, _named(move.arrival.companion, move.recording_id))
        placed = _quietly(move.arrival, move.folder, _named(move.arrival, move.recording_id))
        del self.unmoved[move.arrival.path]
        if placed is not None and move.note:
            write_note(placed.with_name(f"{placed.name}{NOTE}"), move.note)

    def unhold(self, recording_id: str) -> None:
        """A released or refused recording: its file leaves `held`, its notes go."""
        for file in self._lying(recording_id):
            if file.name.endswith(NOTE):
                file.unlink(missing_ok=True)
            else:
                _quietly(file, self.done, file.name)

    def renote(self, recording_id: str, note: str) -> None:
        """It was released, and held again for another reason."""
        for old in self._lying(recording_id):
            if old.name.endswith(NOTE):
                write_note(old, note)

    def clear_decided(self, store: Store, items: Sequence[HeldItem]) -> None:
        """What a person refused leaves `held`, and what another node worked on anew; the file is kept in `done`.
        `items`: all that is held.
        """
        for mark in marked(self.held) - waiting_whole(items):
            recording_id = store.find(mark)
            if isinstance(recording_id, str):
                state = store.story(recording_id).state
                moved_on = state is RecordingState.READY and self._has_file(recording_id)
                if moved_on or state is RecordingState.REFUSED:
                    self.unhold(recording_id)

    def _has_file(self, recording_id: str) -> bool:
        return any(not file.name.endswith(NOTE) for file in self._lying(recording_id))

    def _lying(self, recording_id: str) -> list[Path]:
        """What lies in `held` for one recording: its file and its notes."""
        found = self.held.glob(f"*.{recording_id[:SHOWN]}*")
        return [each for each in found if not each.name.startswith(".")]  # half a note, left by a kill


def _named(arrival: Arrival, recording_id: str) -> str:
    path = Path(arrival.path.name)
    return f"{path.stem}.{recording_id[:SHOWN]}{path.suffix}"


def _quietly(file: Path | Arrival, folder: Path, name: str) -> Path | None:
    """Where the file lies now; None where somebody else moved it meanwhile."""
    try:
        return put_away(file, folder, name)
    except FileNotFoundError:
        source = file.path if isinstance(file, Arrival) else file
        if source.exists() or not folder.is_dir():
            raise
        return None
