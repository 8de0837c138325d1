"""The list of expected recordings beside a recording."""

from gateway.mapping.rules import RepeatRules
from gateway.model import HoldReason
from gateway.validate.beside import Before, Beside, doubts
from tests.builders import a_recording

RECORDING = a_recording()
LAST_WEEK = Before(
    recording_id="1a2b3c4d-0000",
    own=True,
    serial=RECORDING.monitor.serial,
    began=RECORDING.began.replace(year=RECORDING.began.year - 1),
    ended=RECORDING.ended.replace(year=RECORDING.ended.year - 1),
    instants=frozenset(),
    marks=(),
)


def reasons(expected: bool | None) -> list[HoldReason]:
    beside = Beside(recording=RECORDING, marks=(1, 2, 3), earlier=(LAST_WEEK,), expected=expected)
    return [doubt.reason for doubt in doubts(beside, RepeatRules())]


def test_a_monitor_that_was_out_to_somebody_else_holds_first() -> None:
    assert reasons(expected=False) == [HoldReason.MONITOR_OUT_TO_OTHER, HoldReason.PERSON_AGAIN]


def test_without_an_entry_the_same_person_again_is_doubtful_and_with_one_it_is_expected() -> None:
    assert reasons(expected=None) == [HoldReason.PERSON_AGAIN]
    assert reasons(expected=True) == []
