"""Which files belong to a recording that was taken in before, and what may be done with them."""

from dataclasses import replace
from datetime import timedelta

from gateway.model import HoldReason, Monitor
from gateway.model.changes import Changes
from gateway.validate.known import Earlier, hold_if_corrected, instants_of, same_recording
from tests.builders import START, a_recording, readings_over


def earlier(serial: str | None = "EX-0001", hours: float = 24) -> Earlier:
    instants = frozenset(instants_of(a_recording(readings_over(START, hours))))
    return Earlier(recording_id="3f2a9c1e-0000", serial=serial, instants=instants)


def test_half_of_the_shorter_one_is_enough_and_less_is_not() -> None:
    whole = a_recording().readings
    shifted = tuple(replace(each, at=each.at + timedelta(minutes=1)) for each in whole)
    half = len(whole) // 2
    assert same_recording(a_recording((*whole[:half], *shifted[half:])), earlier())
    assert not same_recording(a_recording((*whole[: half - 1], *shifted[half - 1 :])), earlier())


def test_a_half_export_is_recognised_by_the_shorter_one() -> None:
    assert same_recording(a_recording(readings_over(START, 3)), earlier())


def test_another_monitor_is_another_recording_and_an_unknown_one_contradicts_nothing() -> None:
    assert not same_recording(a_recording(monitor=Monitor(serial="EX-0002")), earlier())
    assert same_recording(a_recording(monitor=Monitor()), earlier())
    assert same_recording(a_recording(), earlier(serial=None))


def test_a_new_recording_is_another_one() -> None:
    assert not same_recording(a_recording(readings_over(START + timedelta(days=2))), earlier())


def test_additions_pass_by_themselves() -> None:
    more = Changes(added=("a reading",), figures=("awake mean",))
    assert hold_if_corrected(more, "3f2a9c1e-0000", frozenset()) is None


def test_everything_else_waits_for_whoever_saw_this_very_difference() -> None:
    for changes in (
        Changes(removed=("a",), added=("b",)),
        Changes(changed=("a -> b",)),
        Changes(added=("a",), classes=("awake: below -> above",)),
        Changes(figures=("awake mean 128 -> 131",)),
    ):
        hold = hold_if_corrected(changes, "3f2a9c1e-0000", frozenset())
        assert hold is not None
        assert (hold.reason, hold.rule) == (
            HoldReason.RECORDING_CHANGED,
            f"correction:3f2a9c1e:{changes.mark}",
        )
        assert hold_if_corrected(changes, "3f2a9c1e-0000", frozenset({hold.rule})) is None
        other = replace(changes, changed=(*changes.changed, "another"))
        assert hold_if_corrected(other, "3f2a9c1e-0000", frozenset({hold.rule})) is not None
        assert hold_if_corrected(changes, "0f2a9c1e-0000", frozenset({hold.rule})) is not None


def test_half_an_export_is_never_let_pass() -> None:
    less = Changes(removed=("a", "b"), classes=("awake: above -> nothing",), figures=("awake mean 128 -> 131",))
    hold = hold_if_corrected(less, "3f2a9c1e-0000", frozenset({f"correction:3f2a9c1e:{less.mark}"}))
    assert hold is not None
    assert (hold.reason, hold.rule) == (HoldReason.RECORDING_PARTIAL, "")
    assert "3f2a9c1e" in hold.sentence
