"""A result beside earlier recordings of the same person. The arithmetic is plain subtraction of reported means."""

import json
from datetime import datetime, timedelta

import pytest

from gateway.analyse import summarise
from gateway.analyse.comparing import compare
from gateway.analyse.snapshot import snapshot
from gateway.model import Diary, Interval, PeriodName, Schedule
from gateway.model.plain import plain_json
from gateway.model.projection import facts_of
from tests.builders import LONDON, START, a_recording, readings_over
from tests.unit.validate.ruling import examined, rules

Pair = tuple[float, float]


def facts(
    start: datetime = START,
    awake: Pair = (138, 86),
    asleep: Pair = (118, 70),
    hours: float = 24,
    diary: bool = True,
    guideline: str = "esc-2024",
) -> bytes:
    """What the store keeps of a recording with these means."""

    def profile(at: datetime) -> tuple[float, float, float]:
        return (*(asleep if at.hour >= 23 or at.hour < 7 else awake), 60)

    night = datetime(start.year, start.month, start.day, 23, tzinfo=LONDON)
    recording = a_recording(
        readings_over(start, hours, profile=profile),
        diary=Diary(asleep=(Interval(night, night + timedelta(hours=8)),) if diary else ()),
        schedule=Schedule(interval_day=30, interval_night=60),
    )
    found = examined(recording, guideline, now=start + timedelta(days=2))
    assert found.hold is None
    return plain_json(facts_of(recording, found, summarise(recording, found, rules(guideline)), None))


def days_before(days: int) -> datetime:
    return START - timedelta(days=days)


def test_each_mean_is_compared_with_the_last_recording() -> None:
    earlier = facts(days_before(90), awake=(144.3, 84), asleep=(118, 74.5))
    # hourly means of 24 h: (16 · awake + 8 · asleep) / 24
    assert compare(facts(), [earlier], "hourly") == (
        "Awake average 138.0/86.0 mmHg, 144.3/84.0 mmHg in the recording of 2025-12-03: "
        "systolic 6.3 lower, diastolic 2.0 higher.",
        "Asleep average 118.0/70.0 mmHg, 118.0/74.5 mmHg in the recording of 2025-12-03: "
        "systolic the same, diastolic 4.5 lower.",
        "24-hour average 131.3/80.7 mmHg, 135.5/80.8 mmHg in the recording of 2025-12-03: "
        "systolic 4.2 lower, diastolic 0.1 lower.",
        "Systolic dip 14.5 % (dipper), 18.2 % (dipper) in the recording of 2025-12-03: "
        "the class of the dip on a single day repeats poorly.",
    )


def test_the_24_hour_mean_is_the_same_kind_then_as_now() -> None:
    # arithmetic mean over 32 awake and 8 asleep readings: (32 · 138 + 8 · 118) / 40 = 134.0
    lines = compare(facts(), [facts(days_before(90))], "arithmetic")
    assert lines[2].startswith("24-hour average 134.0/82.8 mmHg, 134.0/82.8 mmHg")


def test_the_latest_of_several_is_compared_and_their_course_is_told() -> None:
    past = [facts(days_before(30 * n), awake=(150 - n, 90)) for n in range(7, 0, -1)]
    lines = compare(facts(), past, "hourly")
    assert "149.0/90.0 mmHg in the recording of 2026-02-01" in lines[0]
    assert lines[-1] == (
        "Awake average in earlier recordings: 2025-10-04 145.0/90.0, 2025-11-03 146.0/90.0, 2025-12-03 147.0/90.0, "
        "2026-01-02 148.0/90.0, 2026-02-01 149.0/90.0 mmHg."
    )


def test_nothing_is_said_without_an_earlier_recording() -> None:
    assert compare(facts(), [], "hourly") == ()


def test_an_earlier_recording_that_was_not_good_enough_is_left_out() -> None:
    poor, good = facts(days_before(30), hours=8, diary=False), facts(days_before(60))
    assert compare(facts(), [poor], "hourly") == ()
    assert "in the recording of 2026-01-02" in compare(facts(), [good, poor], "hourly")[0]


def test_a_recording_that_is_not_good_enough_is_not_compared() -> None:
    assert compare(facts(hours=8, diary=False), [facts(days_before(30))], "hourly") == ()


def test_a_night_with_too_few_readings_is_not_compared() -> None:
    """NICE asks nothing of the night, so a recording can be good enough without one; 15 hours are no 24-hour mean."""
    short = facts(days_before(30), hours=15, diary=False, guideline="nice-ng136")
    lines = compare(facts(), [short], "hourly")
    assert [line.split(" average")[0] for line in lines if " average " in line] == ["Awake"]


def test_other_windows_are_said() -> None:
    said = "Awake and asleep were found in another way then, so these averages compare less well."
    assert said in compare(facts(), [facts(days_before(30), diary=False)], "hourly")
    assert said not in compare(facts(), [facts(days_before(30))], "hourly")


@pytest.mark.parametrize("damage", [b"{}", b"[]", b"not json", b'{"recording":{},"summary":{"statistics":[]}}', b"3"])
def test_facts_that_cannot_be_read_are_left_out_and_hold_nothing(damage: bytes) -> None:
    assert snapshot(damage) is None
    assert compare(facts(), [damage], "hourly") == ()
    assert len(compare(facts(), [facts(days_before(30)), damage], "hourly")) == 4


def test_a_held_recording_without_a_result_is_no_snapshot() -> None:
    told = json.loads(facts())
    assert snapshot(json.dumps({**told, "summary": None}).encode()) is None


def test_what_a_snapshot_holds() -> None:
    found = snapshot(facts())
    assert found is not None
    assert set(found.means) == set(PeriodName)
    assert (str(found.on), found.adequate, found.origin) == ("2026-03-03", True, "diary")
    assert found.dip is not None and (str(found.dip.percent), found.dip.dip_class) == ("14.5", "dipper")
