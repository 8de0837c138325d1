"""The drawing: where things stand, what is joined, what is marked."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from defusedxml.ElementTree import fromstring

from gateway.model import DiaryNote, NoteKind, Use
from gateway.report import render_svg
from gateway.report.clock import clock_of
from gateway.report.facts import notes
from gateway.report.frame import framed
from gateway.report.scene import scene_of
from gateway.report.words import words_of
from tests.builders import a_recording
from tests.unit.report.cases import BY_NAME, CASES, at


def scene(name: str):  # type: ignore[no-untyped-def]
    case = BY_NAME[name]
    return scene_of(case.recording, case.summary)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_every_picture_is_well_formed_and_inside_its_frame(case) -> None:  # type: ignore[no-untyped-def]
    root = fromstring(render_svg(case.recording, case.summary))
    width, height = float(root.get("width")), float(root.get("height"))
    for element in root.iter():
        if element.tag.endswith("text"):
            assert 0 <= float(element.get("x")) <= width
            assert 0 <= float(element.get("y")) <= height


def test_time_runs_evenly_in_real_time_over_a_clock_change() -> None:
    found = scene("clock-change")
    frame = framed(found, 500, 200)
    steps = [
        frame.x(b.reading.at) - frame.x(a.reading.at) for a, b in zip(found.valid, found.valid[1:], strict=False)
    ]
    assert max(steps) - min(steps) < 1e-6


def test_the_change_is_found_to_the_minute_and_not_on_other_days() -> None:
    """01:00 UTC on the last Sunday of March, here 29 March 2026 (IANA tz database, Europe/London)."""
    found = scene("clock-change")
    changes = found.clock.changes(found.start, found.end)
    assert [(one.at.isoformat(), one.minutes) for one in changes] == [("2026-03-29T01:00:00+00:00", 60)]
    plain = scene("adequate")
    assert plain.clock.changes(plain.start, plain.end) == ()


def test_a_recording_without_zone_uses_the_offsets_of_its_cells() -> None:
    case = BY_NAME["clock-change"]
    fixed = tuple(
        replace(one, at=one.at.astimezone(one.at.tzinfo).fromisoformat(one.at.isoformat()))
        for one in case.recording.readings
    )
    found = clock_of(replace(case.recording, zone=None, readings=fixed))
    changes = found.changes(fixed[0].at, fixed[-1].at)
    assert [one.minutes for one in changes] == [60]


def test_hours_are_labelled_once_each_on_a_short_day() -> None:
    found = scene("clock-change")
    hours = [f"{one:%H}" for one in found.clock.hours(found.start, found.end)]
    assert "01" not in hours
    assert hours.count("02") == 1


def test_higher_pressure_stands_higher() -> None:
    frame = framed(scene("adequate"), 500, 200)
    assert frame.y(180) < frame.y(120) < frame.y(60)
    assert frame.top <= frame.y(999) == frame.top
    assert frame.y(-5) == frame.floor


def test_a_gap_is_not_bridged() -> None:
    """Cuff off between 17:30 and 07:00: two runs, never one line through the night."""
    assert [len(run) for run in scene("inadequate").stretches] == [10, 4]


def test_hourly_means_are_those_of_the_valid_readings() -> None:
    found = scene("adequate")
    first = found.hours[0]
    inside = [one.reading for one in found.valid if first.start <= one.reading.at < first.start + timedelta(hours=1)]
    assert first.systolic == sum(one.systolic for one in inside) / len(inside)
    assert len(found.hours) == 24


def test_one_disc_per_valid_reading_one_wedge_per_failed_one() -> None:
    case = BY_NAME["adequate"]
    picture = render_svg(case.recording, case.summary)
    uses = [one.use for one in case.summary.judged]
    discs = re.search(r'd="((?:M[\d.]+ [\d.]+h\.01)+)"', picture)
    assert discs is not None
    assert discs[1].count("M") == uses.count(Use.VALID)
    wedges = re.findall(r'<path d="M[\d.]+ [\d.]+L[\d.]+ [\d.]+L[\d.]+ [\d.]+Z" fill="#1b1b1b"/>', picture)
    assert len(wedges) == uses.count(Use.FAILED) + 1  # and one in the key


def test_an_excluded_value_beyond_the_axis_is_drawn_at_the_edge_with_its_number() -> None:
    case = BY_NAME["adequate"]
    assert ">268<" in render_svg(case.recording, case.summary)


def test_notes_near_each_other_stand_in_two_rows() -> None:
    case = BY_NAME["adequate"]
    root = fromstring(render_svg(case.recording, case.summary))
    spots = [(e.text, e.get("y")) for e in root.iter() if e.tag.endswith("text") and e.text in {"1", "2", "3"}]
    assert [text for text, _ in spots] == ["1", "2", "3"]
    assert spots[1][1] != spots[2][1]


def test_without_heart_rate_the_panel_says_so() -> None:
    case = BY_NAME["no-heart-rate-french"]
    assert "no heart rate in this recording" in render_svg(case.recording, case.summary)
    assert "pas de fréquence cardiaque" in render_svg(case.recording, case.summary, "fr")


def test_no_limits_are_drawn_where_none_may_be_applied() -> None:
    child, adult = BY_NAME["child"], BY_NAME["adequate"]
    assert ", limit " not in render_svg(child.recording, child.summary)
    assert "awake, limit 135/85" in render_svg(adult.recording, adult.summary)


def test_a_single_reading_can_be_drawn() -> None:
    case = BY_NAME["adequate"]
    one = a_recording((case.recording.readings[1],))
    assert "<svg" in render_svg(one, case.summary)
    assert scene_of(one, case.summary).start == at(3, 9)


def test_only_notes_that_are_listed_are_marked_and_medication_and_symptoms_go_first() -> None:
    """A person who noted every change of posture must not hide the tablets, nor a mark lead to nothing."""
    case = BY_NAME["adequate"]
    postures = [DiaryNote(at(3, 10 + n, 10), NoteKind.POSTURE, "sitting") for n in range(12)]
    rare = [
        DiaryNote(at(4, 6, 30), NoteKind.MEDICATION, "evening tablets"),
        DiaryNote(at(4, 7, 15), NoteKind.SYMPTOM, "dizzy"),
    ]
    recording = replace(case.recording, diary=replace(case.recording.diary, notes=(*postures, *rare)))
    found = scene_of(recording, case.summary)
    assert found.notes == (*postures[:6], *rare)
    listed = notes(recording, words_of("en"))
    assert [number for number, _ in listed] == ["1", "2", "3", "4", "5", "6", "7", "8", ""]
    assert "evening tablets" in listed[6][1] and "dizzy" in listed[7][1]
    assert "6" in listed[8][1]
    drawn = render_svg(recording, case.summary)
    marks = re.findall(r'font-size="7" text-anchor="middle">(\d)</text>', drawn)
    assert marks == list("12345678")
