"""Diary entries other than sleep: medication, posture, symptoms, free text."""

from datetime import UTC, datetime
from typing import Any

import pytest

from gateway.mapping.source import SourceMap
from gateway.model import DiaryNote, HoldReason, NoteKind, Reading, Recording
from tests.unit.read.layouts import a_file, a_map, reason, recorded
from tests.unit.read.test_plain import good, with_table

AT = {"how": "instant", "fact": "wrote", "pattern": "YYYY-MM-DD hh:mm"}
ABOUT = {"fact": "wrote", "part": 2, "codes": {"M": "medication", "P": "posture", "S": "symptom"}}
ROW = "2026-03-03 09:00;142;88;76"


def noting(**changes: Any) -> SourceMap:
    note = {"at": AT, "kind": ABOUT, "text": {"fact": "wrote", "part": 3}, **changes}
    return a_map(diary={"notes": [note]})


def entries(*facts: str, source: SourceMap | None = None, rows: tuple[str, ...] = (ROW,)) -> Recording:
    head = "".join(f"{fact}\n" for fact in ("number;0042", *facts)) + "\n"
    return recorded(a_file(*rows, facts=head), source or noting())


def why(*facts: str, source: SourceMap | None = None) -> HoldReason:
    head = "".join(f"{fact}\n" for fact in ("number;0042", *facts)) + "\n"
    return reason(a_file(ROW, facts=head), source or noting())


def said(recording: Recording) -> list[tuple[str, str, str]]:
    return [(f"{note.at:%H:%M}", note.kind.value, note.text) for note in recording.diary.notes]


class TestAboveTheTable:
    def test_every_entry_comes_in_order_of_time(self) -> None:
        recording = entries("wrote;2026-03-03 12:00;S;dizzy", "wrote;2026-03-03 08:00;M;one tablet")
        assert said(recording) == [("08:00", "medication", "one tablet"), ("12:00", "symptom", "dizzy")]
        assert recording.diary.notes[0].at == datetime(2026, 3, 3, 8, tzinfo=UTC)

    def test_a_blank_kind_is_free_text_and_a_blank_text_no_entry(self) -> None:
        assert said(entries("wrote;2026-03-03 12:00;;went out", "wrote;2026-03-03 13:00;M;", "wrote")) == [
            ("12:00", "text", "went out")
        ]

    def test_the_same_entry_twice_is_one(self) -> None:
        assert len(said(entries(*["wrote;2026-03-03 12:00;S;dizzy"] * 2))) == 1

    def test_listed_codes_become_words_and_others_stay(self) -> None:
        source = noting(kind="posture", text={"fact": "wrote", "part": 3, "words": {"2": "standing"}})
        recording = entries("wrote;2026-03-03 12:00;;2", "wrote;2026-03-03 13:00;;7", source=source)
        assert [note.text for note in recording.diary.notes] == ["standing", "7"]

    @pytest.mark.parametrize(
        ("fact", "expected"),
        [
            ("wrote;;M;one tablet", HoldReason.TIME_UNREADABLE),
            ("wrote;at noon;M;one tablet", HoldReason.TIME_UNREADABLE),
            ("wrote;2026-03-03 25:00;M;one tablet", HoldReason.TIME_UNREADABLE),
            ("wrote;2026-03-29 01:30;M;one tablet", HoldReason.TIME_DOUBTFUL),
            ("wrote;2026-03-03 12:00;X;one tablet", HoldReason.VALUE_UNREADABLE),
            ("wrote;2026-03-03 12:00;M;one tablet;and more", HoldReason.VALUE_UNREADABLE),
            ("wrote;2026-03-03 12:00;M;" + "long " * 500, HoldReason.VALUE_UNREADABLE),
        ],
    )
    def test_what_cannot_be_read_for_certain_holds_the_file(self, fact: str, expected: HoldReason) -> None:
        assert why(fact) is expected

    def test_times_and_texts_in_facts_of_their_own_must_pair_up(self) -> None:
        source = noting(kind="text", text={"fact": "words"})
        assert why("wrote;2026-03-03 12:00", "wrote;2026-03-03 13:00", "words;late", source=source) is (
            HoldReason.FACTS_DISAGREE
        )

    def test_an_entry_of_another_day_is_kept_and_named(self) -> None:
        recording = entries("wrote;2026-02-03 12:00;M;one tablet")
        assert len(recording.diary.notes) == 1
        assert recording.source.remarks == ("row 2: a diary entry more than 24 hours away from the readings; kept",)

    def test_a_time_that_the_clocks_showed_twice_is_told(self) -> None:
        recording = entries("wrote;2026-10-25 01:30;M;one tablet", rows=("2026-10-25 09:00;142;88;76",))
        (note,) = recording.diary.notes
        assert note.at.isoformat() == "2026-10-25T01:30:00+01:00"
        assert recording.source.remarks == ("row 2: in the hour that the clocks showed twice; taken as the first",)


def test_the_end_of_a_sleep_in_the_doubled_hour_is_told() -> None:
    at = {"how": "instant", "pattern": "YYYY-MM-DD hh:mm"}
    source = a_map(diary={"asleep": [{"fell_asleep": {**at, "fact": "slept"}, "woke": {**at, "fact": "woke"}}]})
    facts = "number;0042\nslept;2026-10-24 22:00\nwoke;2026-10-25 01:30\n\n"
    recording = recorded(a_file("2026-10-24 21:00;142;88;76", facts=facts), source)
    assert recording.source.remarks == ("row 3: in the hour that the clocks showed twice; taken as the first",)


class TestBesideTheReadings:
    def test_each_column_is_an_entry_of_the_time_of_its_row(self) -> None:
        columns = [
            {"column": "body", "kind": "posture", "words": {"s": "standing", "l": "lying"}},
            {"column": "felt", "kind": "symptom"},
        ]
        header = "taken;upper;lower;beats;body;felt"
        rows = ("2026-03-03 09:00;142;88;76;S;", "2026-03-03 09:30;;;;L;dizzy", "2026-03-03 10:00;140;84;70;;")
        recording = recorded(a_file(*rows, header=header), a_map(readings={"diary": columns}))
        assert said(recording) == [
            ("09:00", "posture", "standing"),
            ("09:30", "posture", "lying"),
            ("09:30", "symptom", "dizzy"),
        ]
        assert recording.source.remarks == ()

    def test_the_neutral_layout_has_such_columns(self) -> None:
        recording = with_table(
            "time,systolic,diastolic,note,medication,posture,symptom",
            "2026-03-03T09:00,142,88,band slipped,one tablet,,headache",
        )
        assert said(recording) == [("09:00", "medication", "one tablet"), ("09:00", "symptom", "headache")]
        assert noted(recording.readings) == ["band slipped"]

    def test_the_neutral_layout_has_entries_of_their_own(self) -> None:
        recording = good(
            "identifier,9990000018\ndiary,2026-03-03T08:00,medication,one tablet\n\n"
            "time,systolic,diastolic\n2026-03-03T09:00,142,88\n"
        )
        at = datetime(2026, 3, 3, 8, tzinfo=UTC)
        assert recording.diary.notes == (DiaryNote(at, NoteKind.MEDICATION, "one tablet"),)


def noted(readings: tuple[Reading, ...]) -> list[str | None]:
    return [reading.note for reading in readings]
