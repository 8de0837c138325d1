"""The notes that lie beside held files, for the nurse."""

import contextlib
import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path

from gateway.model import DeliveryState, Hold, RecordingState
from gateway.store import HeldItem, HeldKind, Store

SHOWN = 8
"""Letters of a recording's number that stand in file names; enough to find it with `status`."""
NOTE = ".why.txt"
_MARK = re.compile(rf"\.([0-9a-f]{{{SHOWN}}})\.")


def why_held(hold: Hold, recording_id: str) -> str:
    """The note beside a held file."""
    number = f"Number: {recording_id[:SHOWN]}\n" if recording_id else ""
    return f"{hold.sentence}\nWhat to do: {hold.action}\n{number}"


def seen_before(recording_id: str, state: RecordingState) -> str:
    """The note beside a file that was taken in before."""
    return (
        "This very file was taken in before; nothing was filed a second time.\n"
        f"Number: {recording_id[:SHOWN]}, state: {state}\n"
    )


def note_of_delivery(held: Path, name: str, recording_id: str, destination: str) -> Path:
    """Where the note about one delivery lies. `name`: the export's file name."""
    return held / f"{Path(name).stem}.{recording_id[:SHOWN]}.{destination}{NOTE}"


def _notes_of(item: HeldItem, held: Path, lying: Mapping[str, list[str]]) -> list[str]:
    """Names of the notes about one held item. A recording whose file does not lie there has none."""
    if item.kind is HeldKind.DELIVERY:
        return [note_of_delivery(held, item.name, item.recording_id, item.destination or "").name]
    ending = f".{item.recording_id[:SHOWN]}{Path(item.name).suffix}"  # not a PDF that came with it
    return [f"{name}{NOTE}" for name in lying.get(item.recording_id[:SHOWN], ()) if name.endswith(ending)]


def _by_mark(held: Path) -> dict[str, list[str]]:
    """Everything that lies there, by the beginning of the recording's number: one look for all of it."""
    found: dict[str, list[str]] = defaultdict(list)
    for path in held.iterdir():
        if mark := _MARK.search(path.name):
            found[mark[1]].append(path.name)
    return found


def marked(held: Path) -> set[str]:
    """The beginnings of the numbers of all recordings about which a note lies there."""
    return {found[1] for note in held.glob(f"*{NOTE}") if (found := _MARK.search(note.name))}


def waiting_whole(items: Sequence[HeldItem]) -> set[str]:
    """The beginnings of the numbers of all recordings that are held as a whole: their notes are right as they are."""
    return {item.recording_id[:SHOWN] for item in items if item.kind is HeldKind.RECORDING}


def write_note(note: Path, text: str) -> None:
    """Whole or not at all: half a note would not be mended. Raises OSError where it cannot be written."""
    half = note.with_name(f".{note.name}.part")
    try:
        half.write_text(text, encoding="utf-8")
        half.replace(note)
    except OSError:
        with contextlib.suppress(OSError):
            half.unlink(missing_ok=True)
        raise


def mend_notes(store: Store, held: Path, inbox: str | None, items: Sequence[HeldItem]) -> None:
    """Write the notes that are missing: that could not be written, or about deliveries that other nodes made of
    recordings that came from this inbox. Remove those whose delivery went on. `items`: all that is held.
    """
    lying = _by_mark(held)
    for item in items:
        there = lying.get(item.recording_id[:SHOWN], [])
        missing = [name for name in _notes_of(item, held, lying) if name not in there]
        if missing and (inbox is None or store.inbox_of(item.recording_id) == inbox):
            text = f"{item.sentence}\nWhat to do: {item.action}\nNumber: {item.recording_id[:SHOWN]}\n"
            for name in missing:
                write_note(held / name, text)
    for mark in marked(held) - waiting_whole(items):
        recording_id = store.find(mark)
        if isinstance(recording_id, str):
            story = store.story(recording_id)
            for delivery in story.deliveries:
                if delivery.state is not DeliveryState.HELD:
                    note_of_delivery(held, story.name, recording_id, delivery.destination).unlink(missing_ok=True)
