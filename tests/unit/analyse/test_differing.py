"""What a person is shown of two files of one recording, by the facts that `preview --json` prints."""

from dataclasses import replace
from datetime import timedelta

from gateway.analyse.differing import differences
from gateway.model import Arm, Circumstances, Diary, DiaryNote, Interval, Monitor, NoteKind, Recording
from gateway.model.changes import Changes
from gateway.model.plain import plain_json
from gateway.model.projection import facts_of
from tests.builders import START, a_recording, readings_over
from tests.unit.analyse.examined import examined_of
from tests.unit.fhir.building import a_summary


def facts(recording: Recording) -> bytes:
    return plain_json(facts_of(recording, examined_of(recording), a_summary(recording), None))


def between(filed: Recording, now: Recording) -> Changes:
    return differences(facts(filed), facts(now))


def test_the_same_says_nothing_and_nobody_is_needed() -> None:
    changes = between(a_recording(), a_recording())
    assert changes == Changes()
    assert changes.nothing and not changes.needs_person and not changes.only_less


def test_more_readings_are_an_addition_with_figures_that_move() -> None:
    whole = a_recording()
    changes = between(a_recording(whole.readings[:-1]), whole)
    assert len(changes.added) == 1 and not changes.removed and not changes.changed
    assert changes.figures and not changes.gone
    assert changes.needs_person == bool(changes.classes)


def test_fewer_readings_are_half_an_export() -> None:
    whole = a_recording()
    changes = between(whole, a_recording(whole.readings[:10]))
    assert len(changes.removed) == len(whole.readings) - 10
    assert changes.only_less and changes.needs_person
    assert changes.gone == {each.at.timestamp() for each in whole.readings[10:]}


def test_another_value_needs_a_person_who_sees_both() -> None:
    first, *others = a_recording().readings
    assert first.systolic is not None
    changes = between(
        a_recording((first, *others)), a_recording((replace(first, systolic=first.systolic + 70), *others))
    )
    (line,) = changes.changed
    old, new = line.split(" -> ")
    assert f"{first.systolic // 10}/" in old and f"{first.systolic // 10 + 7}/" in new
    assert changes.needs_person and changes.gone == {first.at.timestamp()}


def test_another_offset_of_the_same_instant_is_another_time() -> None:
    recording = a_recording()
    moved = tuple(
        replace(each, at=each.at.astimezone((each.at + timedelta(0)).tzinfo)) for each in recording.readings
    )
    assert between(recording, a_recording(moved)).nothing
    first = recording.readings[0]
    from datetime import timezone

    elsewhere = replace(first, at=first.at.astimezone(timezone(timedelta(hours=3))))
    assert between(recording, a_recording((elsewhere, *recording.readings[1:]))).changed


def test_a_heart_rate_that_was_missing_is_an_addition_and_one_that_goes_is_none() -> None:
    bare = tuple(replace(each, heart_rate=None) for each in readings_over(START))
    learnt = between(a_recording(bare), a_recording())
    assert learnt.added and not learnt.changed and not learnt.gone
    lost = between(a_recording(), a_recording(bare))
    assert lost.changed and lost.needs_person


def test_facts_around_the_readings_are_learnt_or_change() -> None:
    known = a_recording(monitor=Monitor(serial="EX-0001", arm=Arm.LEFT))
    unknown = a_recording(monitor=Monitor(serial="EX-0001"))
    assert between(unknown, known).added == ("arm: left",)
    other = a_recording(monitor=Monitor(serial="EX-0001", arm=Arm.RIGHT))
    assert between(known, other).changed == ("arm: left -> right",)
    assert between(known, unknown).removed == ("arm: left",)
    ordered = a_recording(circumstances=Circumstances(order="ORD-0042"))
    assert "order: ORD-0042" in between(a_recording(circumstances=Circumstances()), ordered).added


def test_diary_entries_come_and_go_and_sleep_that_moves_needs_a_person() -> None:
    note = DiaryNote(START + timedelta(hours=2), NoteKind.MEDICATION, "one tablet")
    asleep = Interval(START + timedelta(hours=13), START + timedelta(hours=21))
    without, with_note = (
        a_recording(diary=Diary(asleep=(asleep,))),
        a_recording(diary=Diary(asleep=(asleep,), notes=(note,))),
    )
    assert len(between(without, with_note).added) == 1
    assert len(between(with_note, without).removed) == 1
    later = Interval(asleep.start + timedelta(hours=1), asleep.end)
    moved = between(without, a_recording(diary=Diary(asleep=(later,))))
    assert [line for line in moved.changed if line.startswith("asleep: ")] and moved.needs_person


def test_the_mark_stands_for_these_very_differences() -> None:
    whole = a_recording()
    first, second = (between(whole, a_recording(whole.readings[:count])) for count in (10, 11))
    assert first.mark != second.mark
    assert first.mark == between(whole, a_recording(whole.readings[:10])).mark
    assert len(first.mark) == 12
