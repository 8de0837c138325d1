"""What the person wrote down, where it belongs: the posture on its reading, everything else beside the results."""

from collections.abc import Iterator
from datetime import datetime

from gateway.fhir.elements import Element, Scope, moment, notes
from gateway.fhir.readings import filed_readings, posture_note
from gateway.model import NoteKind

NAMES = {
    NoteKind.MEDICATION: "Diary, medication:",
    NoteKind.POSTURE: "Diary, posture:",
    NoteKind.SYMPTOM: "Diary, symptom:",
    NoteKind.TEXT: "Diary:",
}


def entries(scope: Scope, day: int) -> Iterator[Element]:
    """Annotations with the time of each entry of a day; a posture that stands on a filed reading is not repeated."""
    on_readings = {position for judged, _ in filed_readings(scope) if (position := posture_note(scope, judged))}
    for note in scope.recording.diary.notes:
        if day_of(scope, note.at) != day or note in on_readings:
            continue
        for annotation in notes(f"{scope.say(NAMES[note.kind])} {note.text}"):
            yield {"time": moment(note.at), **annotation}


def day_of(scope: Scope, at: datetime) -> int:
    """The day of the recording to which an instant belongs; what lies outside goes to the first."""
    for period in scope.summary.windows.periods:
        if any(interval.start <= at < interval.end for interval in period.whole):
            return period.day
    return 1
