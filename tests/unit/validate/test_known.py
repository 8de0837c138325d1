"""Which files belong to a recording that was taken in before."""

from dataclasses import replace
from datetime import timedelta

from gateway.model import HoldReason, Monitor
from gateway.validate.known import Earlier, hold_if_known, instants_of
from tests.builders import START, a_recording, readings_over


def earlier(serial: str | None = "EX-0001", hours: float = 24) -> Earlier:
    instants = frozenset(instants_of(a_recording(readings_over(START, hours))))
    return Earlier(recording_id="3f2a9c1e-0000", serial=serial, instants=instants)


def test_the_same_instants_of_the_same_person_are_the_same_recording() -> None:
    hold = hold_if_known(a_recording(), [earlier()])
    assert hold is not None
    assert hold.reason is HoldReason.RECORDING_CHANGED
    assert "3f2a9c1e" in hold.sentence
    assert hold.rule == "", "nobody may file it a second time"


def test_half_of_the_shorter_one_is_enough_and_less_is_not() -> None:
    whole = a_recording().readings
    shifted = tuple(replace(each, at=each.at + timedelta(minutes=1)) for each in whole)
    half = len(whole) // 2
    assert hold_if_known(a_recording((*whole[:half], *shifted[half:])), [earlier()]) is not None
    assert hold_if_known(a_recording((*whole[: half - 1], *shifted[half - 1 :])), [earlier()]) is None


def test_a_half_export_is_recognised_by_the_shorter_one() -> None:
    assert hold_if_known(a_recording(readings_over(START, 3)), [earlier()]) is not None


def test_another_monitor_is_another_recording_and_an_unknown_one_contradicts_nothing() -> None:
    assert hold_if_known(a_recording(monitor=Monitor(serial="EX-0002")), [earlier()]) is None
    assert hold_if_known(a_recording(monitor=Monitor()), [earlier()]) is not None
    assert hold_if_known(a_recording(), [earlier(serial=None)]) is not None


def test_a_new_recording_goes_on() -> None:
    later = a_recording(readings_over(START + timedelta(days=2)))
    assert hold_if_known(later, [earlier()]) is None
    assert hold_if_known(a_recording(), []) is None
