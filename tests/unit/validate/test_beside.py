"""Recordings beside those taken in before: same readings, same monitor, same person again."""

import random
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from gateway.mapping.rules import RepeatRules
from gateway.model import Circumstances, HoldReason, Monitor, Reading, Recording
from gateway.validate.beside import Before, Beside, doubts
from gateway.validate.known import instants_of
from gateway.validate.likeness import INDEXED, alike, marks_of
from tests.builders import START, a_reading, a_recording

KEY = b"k" * 32
SECOND = "b2" * 16


def scattered(seed: int, start: datetime = START, count: int = 48, minutes: int = 30) -> list[Reading]:
    """A day of readings with the scatter of a real one."""
    chance = random.Random(seed)
    return [
        a_reading(
            start + timedelta(minutes=minutes * number),
            round(chance.gauss(132, 12)),
            round(chance.gauss(80, 9)),
            row=number + 10,
        )
        for number in range(count)
    ]


def recorded(readings: Sequence[Reading], serial: str | None = "EX-0001", order: str | None = None) -> Recording:
    return a_recording(readings, monitor=Monitor(serial=serial), circumstances=Circumstances(order=order))


def before(recording: Recording, *, own: bool) -> Before:
    return Before(
        recording_id=SECOND,
        own=own,
        serial=recording.monitor.serial,
        began=recording.began,
        ended=recording.ended,
        instants=frozenset(instants_of(recording)),
        marks=marks_of(recording, KEY),
        order=recording.circumstances.order,
    )


def reasons(
    recording: Recording, earlier: Iterable[Before], rules: RepeatRules | None = None, *, expected: bool | None = None
) -> list[HoldReason]:
    beside = Beside(recording=recording, marks=marks_of(recording, KEY), earlier=tuple(earlier), expected=expected)
    return [doubt.reason for doubt in doubts(beside, rules or RepeatRules())]


# the fingerprint


def test_the_same_values_are_alike_whoever_and_whenever() -> None:
    ours = marks_of(recorded(scattered(1)), KEY)
    assert alike(ours, marks_of(recorded(scattered(1, START + timedelta(days=9))), KEY))
    assert not alike(ours, marks_of(recorded(scattered(2)), KEY))


@pytest.mark.parametrize(
    "change",
    [
        lambda readings: readings[:24],
        lambda readings: readings[24:],
        lambda readings: readings[:20] + readings[21:],
        lambda readings: [replace(readings[0], systolic=None, diastolic=readings[0].diastolic), *readings[1:]],
        lambda readings: readings[::-1],
        lambda readings: [replace(each, heart_rate=None) for each in readings],
        lambda readings: scattered(9, START - timedelta(days=1)) + readings,
    ],
    ids=["first half", "second half", "row left out", "value lost", "rows turned", "no heart rate", "two people"],
)
def test_most_of_the_values_is_enough(change: object) -> None:
    whole = scattered(1)
    ours, theirs = marks_of(recorded(change(whole)), KEY), marks_of(recorded(whole), KEY)  # type: ignore[operator]
    assert alike(ours, theirs) and alike(theirs, ours)
    assert set(ours[:INDEXED]) & set(theirs[:INDEXED]), "the store's index would not find it"


def test_chance_makes_nobody_alike() -> None:
    """2,000 days of one and the same person, 2 million pairs: no two share even a single window."""
    seen: set[int] = set()
    for seed in range(2000):
        marks = set(marks_of(recorded(scattered(seed)), KEY))
        assert not marks & seen
        seen |= marks


def test_flat_stretches_tell_nothing() -> None:
    flat = [a_reading(START + timedelta(minutes=30 * number), 120, 80, row=number) for number in range(48)]
    assert marks_of(recorded(flat), KEY) == ()
    assert not alike((), ())


def test_marks_tell_nothing_without_the_key() -> None:
    recording = recorded(scattered(1))
    assert not set(marks_of(recording, KEY)) & set(marks_of(recording, b"o" * 32))
    assert all(0 <= mark < 2**63 for mark in marks_of(recording, KEY))


# what it leads to


def test_same_readings_under_another_person_are_held() -> None:
    theirs = before(recorded(scattered(1)), own=False)
    assert reasons(recorded(scattered(1)), [theirs])[0] is HoldReason.READINGS_OF_OTHER


def test_same_readings_at_another_time_are_held() -> None:
    theirs = before(recorded(scattered(1)), own=True)
    moved = recorded(scattered(1, START + timedelta(minutes=61)))
    assert reasons(moved, [theirs]) == [HoldReason.READINGS_AT_OTHER_TIME]


def test_the_same_recording_of_the_same_person_is_no_matter_of_this_rule() -> None:
    theirs = before(recorded(scattered(1)), own=True)
    assert reasons(recorded(scattered(1)), [theirs]) == []


def test_same_readings_of_the_same_person_on_another_monitor_are_held() -> None:
    theirs = before(recorded(scattered(1), serial="EX-0002"), own=True)
    assert reasons(recorded(scattered(1)), [theirs]) == [HoldReason.READINGS_AT_OTHER_TIME]


@pytest.mark.parametrize(
    ("hours", "serial", "held"),
    [
        (-23.4, "EX-0001", True),
        (23.4, "EX-0001", True),
        (23.5, "EX-0001", False),
        (5, "EX-0002", False),
        (5, None, False),
    ],
)
def test_one_monitor_cannot_be_on_two_people_at_once(hours: float, serial: str | None, held: bool) -> None:
    theirs = before(recorded(scattered(2, START + timedelta(hours=hours)), serial=serial), own=False)
    assert (HoldReason.MONITOR_ON_OTHER in reasons(recorded(scattered(1)), [theirs])) is held


def test_without_a_serial_no_monitor_is_compared() -> None:
    theirs = before(recorded(scattered(2), serial=None), own=False)
    assert reasons(recorded(scattered(1), serial=None), [theirs]) == []


@pytest.mark.parametrize("serial", ["EX-0002", "EX-0001", None])
def test_one_person_cannot_have_two_recordings_at_once(serial: str | None) -> None:
    theirs = before(recorded(scattered(2, START + timedelta(hours=5, minutes=7)), serial=serial), own=True)
    assert HoldReason.PERSON_TWICE_AT_ONCE in reasons(recorded(scattered(1)), [theirs])


@pytest.mark.parametrize(
    ("days", "serial", "held"),
    [
        (2, "EX-0002", True),
        (30.5, "EX-0002", True),
        (31.5, "EX-0002", False),
        (-2, "EX-0002", True),
        (400, "EX-0001", True),
        (400, "EX-0002", False),
        (-400, "EX-0001", False),
    ],
)
def test_a_second_recording_of_one_person(days: float, serial: str, held: bool) -> None:
    """`days` before ours; the monitor that delivered this person last counts whenever that was."""
    theirs = before(recorded(scattered(2, START - timedelta(days=days)), serial=serial), own=True)
    assert (reasons(recorded(scattered(1)), [theirs]) == [HoldReason.PERSON_AGAIN]) is held


def test_a_second_recording_is_no_surprise_where_it_was_wanted() -> None:
    theirs = before(recorded(scattered(2, START - timedelta(days=3)), order="ORD-1"), own=True)
    assert reasons(recorded(scattered(1), order="ORD-2"), [theirs]) == []
    assert reasons(recorded(scattered(1)), [theirs], expected=True) == []
    assert reasons(recorded(scattered(1), order="ORD-1"), [theirs]) == [HoldReason.PERSON_AGAIN]


def test_the_monitor_was_on_somebody_else_in_between() -> None:
    own = before(recorded(scattered(2, START - timedelta(days=90))), own=True)
    other = before(recorded(scattered(3, START - timedelta(days=60))), own=False)
    assert reasons(recorded(scattered(1)), [own, other]) == []
    assert reasons(recorded(scattered(1)), [own]) == [HoldReason.PERSON_AGAIN]


def test_a_site_may_choose_otherwise() -> None:
    theirs = before(recorded(scattered(2, START - timedelta(days=3))), own=True)
    never = RepeatRules(within=None, same_monitor=False)
    assert reasons(recorded(scattered(1)), [theirs], never) == []


def test_what_a_person_lets_pass_counts_for_that_pair_only() -> None:
    recording = recorded(scattered(1))
    theirs = before(recorded(scattered(1)), own=False)
    also = replace(theirs, recording_id="c3" * 16)
    first, second = (
        doubt
        for doubt in doubts(
            Beside(recording=recording, marks=marks_of(recording, KEY), earlier=(theirs, also)), RepeatRules()
        )
        if doubt.reason is HoldReason.READINGS_OF_OTHER
    )
    assert not first.stands(frozenset({first.rule})) and second.stands(frozenset({first.rule}))
    assert theirs.recording_id[:8] in first.hold().sentence
