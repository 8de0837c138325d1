"""What the person wrote down reaches the record where it belongs, and nothing is concluded from it."""

from dataclasses import replace
from datetime import timedelta

import pytest

from gateway.fhir import check
from gateway.model import Arm, DiaryNote, Monitor, NoteKind, ReadingsChoice
from tests.builders import START, a_recording
from tests.unit.fhir.building import all_codes, bodies, codes_of, composed, part

POSITION = "http://hl7.org/fhir/StructureDefinition/observation-bodyPosition"
"""FHIR R4 4.0.1, extension-definitions.json."""


def wrote(*notes, **changes):
    recording = a_recording(**changes)
    return replace(recording, diary=replace(recording.diary, notes=notes))


def positions(made):
    found = {}
    for body in bodies(made, "Observation", "85354-9"):
        for item in body.get("extension", ()):
            if item["url"] == POSITION:
                found[body["effectiveDateTime"]] = item["valueCodeableConcept"]
    return found


def whole_notes(made):
    return bodies(made, "Observation", None)[-1].get("note", [])


@pytest.mark.parametrize(
    ("word", "licensed", "position"),
    [
        ("Sitting", False, {"text": "Sitting"}),
        ("sitting", True, {"text": "sitting", "code": "33586001"}),
        ("Supine", True, {"text": "Supine", "code": "40199007"}),
        ("standing", True, {"text": "standing", "code": "10904000"}),
        ("on the sofa", True, {"text": "on the sofa"}),
        ("lying", True, {"text": "lying"}),  # not said on which side: no code
    ],
)
def test_a_posture_of_a_reading_stands_on_that_reading_only(word, licensed, position):
    made = composed(wrote(DiaryNote(START, NoteKind.POSTURE, word)), snomed=licensed)
    assert check(made, all_codes()) == ()
    ((when, found),) = positions(made).items()
    assert when == "2026-03-03T09:00:00+00:00"
    assert found["text"] == position["text"]
    assert codes_of(found) == ([position["code"]] if "code" in position else [])
    assert not any("posture" in note["text"] for note in whole_notes(made))


@pytest.mark.parametrize(
    "notes",
    [
        (DiaryNote(START + timedelta(minutes=1), NoteKind.POSTURE, "sitting"),),
        (DiaryNote(START, NoteKind.POSTURE, "sitting"), DiaryNote(START, NoteKind.POSTURE, "standing")),
    ],
    ids=["beside a reading", "two of one reading"],
)
def test_a_posture_that_is_not_of_one_reading_is_only_noted(notes):
    made = composed(wrote(*notes))
    assert positions(made) == {}
    assert [note["text"] for note in whole_notes(made) if "posture" in note["text"]] == [
        f"Diary, posture: {note.text}" for note in notes
    ]


def test_without_readings_the_posture_is_still_told():
    made = composed(wrote(DiaryNote(START, NoteKind.POSTURE, "sitting")), readings=ReadingsChoice.NONE)
    assert [note["text"] for note in whole_notes(made) if "posture" in note["text"]] == ["Diary, posture: sitting"]


def test_medication_symptoms_and_text_are_notes_with_their_time():
    at = START + timedelta(hours=3)
    made = composed(
        wrote(
            DiaryNote(at, NoteKind.MEDICATION, "tablet"),
            DiaryNote(at, NoteKind.SYMPTOM, "<b>dizzy</b>"),
            DiaryNote(at, NoteKind.TEXT, "climbed stairs"),
        )
    )
    assert check(made, all_codes()) == ()
    assert [note for note in whole_notes(made) if "time" in note] == [
        {"time": "2026-03-03T12:00:00+00:00", "text": "Diary, medication: tablet"},
        {"time": "2026-03-03T12:00:00+00:00", "text": "Diary, symptom: &lt;b>dizzy&lt;/b>"},
        {"time": "2026-03-03T12:00:00+00:00", "text": "Diary: climbed stairs"},
    ]


@pytest.mark.parametrize(
    ("cuff", "code"),
    [("Adult", "720737000"), ("large adult", "720738005"), ("Paediatric", "720736009"), ("size 3", None)],
)
def test_a_cuff_has_a_code_where_its_word_is_known_and_licensed(cuff, code):
    monitor = Monitor(model="M", serial="S", arm=Arm.LEFT, cuff_size=cuff)
    for licensed in (False, True):
        whole = bodies(composed(a_recording(monitor=monitor), snomed=licensed), "Observation")[-1]
        said = part(whole, "8358-4")["valueCodeableConcept"]
        assert said["text"] == cuff
        assert codes_of(said) == ([code] if code and licensed else [])


def test_the_arm_stands_on_the_readings_and_on_the_means():
    made = composed(a_recording(monitor=Monitor(model="M", serial="S", arm=Arm.LEFT)), snomed=True)
    for loinc in ("85354-9", "96607-7", "97844-5"):
        for body in bodies(made, "Observation", loinc):
            assert codes_of(body["bodySite"]) == ["368208006"]
