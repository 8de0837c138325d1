"""Order of the rules, waivers, and what holds for every recording that can be built."""

import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gateway.model import (
    Diary,
    HoldReason,
    Identifier,
    Interval,
    Kind,
    Outcome,
    Person,
    Reading,
    Schedule,
    Severity,
    Source,
    Tenths,
    Use,
)
from gateway.validate import RULES, examine
from tests.builders import LONDON, NHS, NOW, START, a_person, a_reading, a_recording, readings_over
from tests.unit.validate.ruling import MAPPINGS, examined, found, rules

ROOT = MAPPINGS.parent

BAD_SLEEP = Diary(asleep=(Interval(START.replace(hour=12), START.replace(hour=13)),))


def test_a_good_recording() -> None:
    result = examined(a_recording())
    assert result.hold is None
    assert not [finding for finding in result.findings if finding.severity is not Severity.NOTE]
    assert {verdict.use for verdict in result.judged} == {Use.VALID}
    assert [verdict.reading for verdict in result.judged] == list(a_recording().readings)


def test_every_rule_is_a_named_function_with_a_meaning() -> None:
    assert len({rule.__name__ for rule in RULES}) == len(RULES)
    assert all(rule.__doc__ for rule in RULES)


def test_the_person_comes_before_the_times_and_the_rest_is_told_too() -> None:
    recording = a_recording(
        [a_reading(START, row=1), a_reading(START - timedelta(hours=1), row=2)], person=Person(), diary=Diary()
    )
    hold = examined(recording).hold
    assert hold is not None
    assert hold.reason is HoldReason.IDENTIFIER_MISSING
    assert [sentence.split(".")[0] for sentence in hold.findings] == [
        "A birth date is missing, so the person cannot be confirmed",
        "The times of the readings jump back",
    ]


@pytest.mark.parametrize(
    ("changes", "rule"),
    [
        ({"person": a_person(birth_date=None)}, "birth-date-missing"),
        ({"diary": BAD_SLEEP}, "sleep-doubtful"),
        ({"readings": (*readings_over(), a_reading(START, row=99))}, "time-not-rising"),
    ],
)
def test_a_waived_rule_becomes_a_caution(changes: dict[str, Any], rule: str) -> None:
    recording = replace(a_recording(), **changes)
    held = examined(recording)
    assert held.hold is not None
    assert held.hold.rule == rule
    passed = examined(recording, waived=[rule])
    assert passed.hold is None
    assert passed.windows is not None
    assert [f.severity for f in passed.findings if f.rule == rule] == [Severity.CAUTION]


def test_doubtful_sleep_that_was_let_pass_is_used_as_written() -> None:
    result = examined(a_recording(diary=BAD_SLEEP), waived=["sleep-doubtful"])
    assert result.windows is not None
    assert [f"{at:%H:%M}" for at in result.windows.waking] == ["13:00"]


def test_a_waiver_of_another_rule_changes_nothing() -> None:
    recording = a_recording(diary=BAD_SLEEP)
    assert examined(recording, waived=["time-in-future", ""]) == examined(recording)


ZONES = st.sampled_from(
    [UTC, LONDON, ZoneInfo("Pacific/Apia"), ZoneInfo("America/St_Johns"), timezone(timedelta(hours=-11, minutes=-30))]
)
ANY_TIME = st.datetimes(
    min_value=datetime(2, 1, 1),  # noqa: DTZ001
    max_value=datetime(9998, 12, 30),  # noqa: DTZ001
    timezones=ZONES,
)
NEAR = st.integers(-200, 4000).map(lambda minutes: START + timedelta(minutes=minutes))
TIMES = st.one_of(NEAR, NEAR, NEAR, ANY_TIME)
VALUES = (
    st.none() | st.integers(-5, 4000).map(Tenths) | st.sampled_from([Tenths(0), Tenths(10**30), Tenths(-(10**9))])
)


@st.composite
def a_wild_reading(draw: st.DrawFn) -> Reading:
    failed = draw(st.booleans())
    nothing = st.none()
    value = nothing if failed else VALUES
    return Reading(
        row=draw(st.integers(0, 99)),
        at=draw(TIMES),
        outcome=Outcome.FAILED if failed else Outcome.MEASURED,
        systolic=draw(value),
        diastolic=draw(value),
        mean=draw(value),
        heart_rate=draw(value),
        kind=draw(st.sampled_from(Kind)),
        asleep_mark=draw(st.none() | st.booleans()),
    )


def _span(edges: tuple[datetime, datetime]) -> Interval | None:
    low, high = sorted(edges, key=datetime.timestamp)
    return Interval(low, high) if low.timestamp() < high.timestamp() else None


SPANS = st.lists(st.tuples(TIMES, TIMES).map(_span).filter(lambda span: span is not None), max_size=3)
CLOCKS = st.none() | st.times()
SCHEDULES = st.builds(
    Schedule,
    interval_day=st.none() | st.integers(-5, 300),
    interval_night=st.none() | st.integers(-5, 300),
    day_from=CLOCKS,
    night_from=CLOCKS,
    planned=st.none() | st.integers(-5, 10**12),
    fitted_at=st.none() | TIMES,
    removed_at=st.none() | TIMES,
)
PERSONS = st.builds(
    Person,
    identifier=st.none() | st.builds(Identifier, st.sampled_from([NHS, "", "x"]), st.text(max_size=12)),
    birth_date=st.none() | st.dates(),
)
SOURCES = st.builds(
    Source,
    map_name=st.just("plain"),
    map_version=st.just("1"),
    encoding=st.just("utf-8"),
    sha256=st.just("0" * 64),
    zone_origin=st.sampled_from(["cell", "file", "site", "assumed"]),
)
RECORDINGS = st.builds(
    lambda **parts: a_recording(parts.pop("readings"), **parts),
    readings=st.lists(a_wild_reading(), min_size=1, max_size=12),
    person=PERSONS,
    schedule=SCHEDULES,
    diary=SPANS.map(lambda spans: Diary(asleep=tuple(spans))),
    source=SOURCES,
    zone=st.none() | st.sampled_from(["Europe/London", "Europe", "No/Such", "", "../etc/passwd", "Asia/Kathmandu"]),
)
WAIVERS = st.sets(st.sampled_from(["sleep-doubtful", "time-not-rising", "recording-too-long", "birth-date-missing"]))
NAMES = st.sampled_from(["esc-2024", "nice-ng136", "aha-acc-2025"])


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(RECORDINGS, WAIVERS, NAMES)
def test_never_raises_and_keeps_every_attempt(recording: Any, waived: set[str], name: str) -> None:
    result = examine(recording, rules(name), NOW, frozenset(waived))
    assert [verdict.reading for verdict in result.judged] == list(recording.readings)
    assert (result.windows is None) == (result.adequacy is None)
    if result.windows is None:
        assert result.hold is not None
    assert (result.hold is not None) == any(f.severity is Severity.HOLD for f in result.findings)
    for verdict in result.judged:
        assert (verdict.use is Use.VALID) == (verdict.rule is None)
    if result.adequacy:
        for count in result.adequacy.counts:
            assert count.valid + count.failed + count.excluded <= count.attempted


@settings(max_examples=40, deadline=None)
@given(minute=st.integers(1, 23 * 60), name=NAMES)
def test_one_more_failed_attempt_changes_no_valid_count(minute: int, name: str) -> None:
    recording = a_recording()
    at = (START.astimezone(UTC) + timedelta(minutes=minute, seconds=30)).astimezone(LONDON)
    extra = a_reading(at, outcome=Outcome.FAILED, row=999)
    readings = sorted([*recording.readings, extra], key=lambda reading: reading.at.timestamp())
    before, after = examined(recording, name), examined(replace(recording, readings=tuple(readings)), name)
    assert before.adequacy is not None
    assert after.adequacy is not None
    for old, new in zip(before.adequacy.counts, after.adequacy.counts, strict=True):
        assert (old.valid, old.scheduled, old.filed) == (new.valid, new.scheduled, new.filed)
        assert new.failed - old.failed == new.attempted - old.attempted


@settings(max_examples=20, deadline=None)
@given(st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_no_count(random: Any) -> None:
    recording = a_recording()
    mixed = list(recording.readings)
    random.shuffle(mixed)
    ordered, shuffled = examined(recording), examined(replace(recording, readings=tuple(mixed)))
    assert shuffled.adequacy == ordered.adequacy
    assert shuffled.windows == ordered.windows
    if mixed != list(recording.readings):
        assert "time-not-rising" in found(shuffled)


def test_the_number_checks_are_loaded_only_when_a_number_is_checked() -> None:
    """The package is large; `bp-gateway --help` must not wait for it."""
    asked = "import sys, gateway.validate; sys.exit('stdnum' in sys.modules or 'pandas' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", asked], cwd=ROOT, check=False).returncode == 0
