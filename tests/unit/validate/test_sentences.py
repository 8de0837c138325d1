"""Word for word: what each rule of validation says, how heavy it is, and whether a named person may let it pass.

A nurse reads these sentences and IT scripts against the names, so neither may change unseen.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest

from gateway.mapping.guideline import Standing
from gateway.mapping.limits import ReadingLimits
from gateway.mapping.rules import PersonRules, TimeRules
from gateway.model import (
    Diary,
    HoldReason,
    Identifier,
    Interval,
    Kind,
    Outcome,
    Reading,
    Recording,
    Schedule,
    Severity,
    Source,
)
from gateway.validate.case import Case, Doubt, Remark, named_rows
from gateway.validate.examining import RULES
from gateway.validate.plausibility import judge
from tests.builders import LONDON, NHS, NOW, START, a_person, a_reading, a_recording, readings_over
from tests.unit.validate.ruling import PERSON, examined, guideline, reading_limits, rules

HOLD, CAUTION, NOTE = Severity.HOLD, Severity.CAUTION, Severity.NOTE


def remarks(recording: Recording, now: datetime = NOW, **changes: Any) -> list[Remark]:
    chosen = rules(**changes)
    judged = tuple(judge(reading, chosen.limits) for reading in recording.readings)
    case = Case(recording=recording, rules=chosen, now=now, judged=judged)
    return [remark for rule in RULES for remark in rule(case)]


def doubts(recording: Recording, **changes: Any) -> list[Doubt]:
    return [remark for remark in remarks(recording, **changes) if isinstance(remark, Doubt)]


def told(recording: Recording, **changes: Any) -> list[tuple[str, Severity, str, tuple[int, ...]]]:
    found = examined(recording, **changes).findings
    return [(f.rule, f.severity, str(f.sentence), f.rows) for f in found if f.rule != "identifier-test"]


def numbered(value: str, system: str = NHS) -> Recording:
    return a_recording(person=a_person(identifier=Identifier(system, value)))


def born(on: date | None) -> Recording:
    return a_recording(person=a_person(birth_date=on))


def at(*minutes: float, start: datetime = START) -> tuple[Reading, ...]:
    return tuple(a_reading(start + timedelta(minutes=m), row=n) for n, m in enumerate(minutes, start=1))


LIVE = PersonRules(systems=PERSON.systems, test_numbers=PERSON.test_numbers, production=True)
SHORT_YEARS = tuple(replace(one, at=one.at.replace(year=1969)) for one in readings_over())
SPREAD_OVER_MONTHS = tuple(a_reading(datetime(2026, month, 3, 9, tzinfo=LONDON), row=month) for month in (1, 2, 3))
AWAKE_ALL_ALONG = tuple(replace(one, asleep_mark=False) for one in readings_over(hours=10))
R = HoldReason


@pytest.mark.parametrize(
    ("recording", "changes", "expected"),
    [
        (numbered("n/a"), {}, Doubt(rule="identifier-missing", reason=R.IDENTIFIER_MISSING, waivable=False)),
        (
            numbered("9990000018", "urn:other"),
            {},
            Doubt(rule="identifier-system-unknown", reason=R.IDENTIFIER_SYSTEM_UNKNOWN, waivable=False),
        ),
        (
            numbered("1111111111"),
            {},
            Doubt(
                rule="identifier-invalid",
                reason=R.IDENTIFIER_INVALID,
                detail="every digit is the same",
                waivable=False,
            ),
        ),
        (
            numbered("9990000019"),
            {},
            Doubt(
                rule="identifier-invalid", reason=R.IDENTIFIER_INVALID, detail="form or check digit", waivable=False
            ),
        ),
        (
            numbered("9990000018"),
            {"person": LIVE},
            Doubt(rule="identifier-test", reason=R.IDENTIFIER_TEST, waivable=False),
        ),
        (born(None), {}, Doubt(rule="birth-date-missing", reason=R.BIRTH_DATE_MISSING)),
        (
            born(date(2026, 3, 6)),
            {},
            Doubt(rule="birth-date-doubtful", reason=R.BIRTH_DATE_DOUBTFUL, detail="in the future", waivable=False),
        ),
        (
            born(date(2026, 3, 4)),
            {},
            Doubt(
                rule="birth-date-doubtful", reason=R.BIRTH_DATE_DOUBTFUL, detail="after the recording", waivable=False
            ),
        ),
        (
            born(date(1905, 3, 3)),
            {},
            Doubt(
                rule="birth-date-doubtful",
                reason=R.BIRTH_DATE_DOUBTFUL,
                detail="more than 120 years ago",
                waivable=False,
            ),
        ),
        (
            a_recording(at(0, 30, 20, 60)),
            {},
            Doubt(rule="time-not-rising", reason=R.TIME_NOT_RISING, detail="row 3", rows=(3,)),
        ),
        (
            a_recording(at(0, 30, 30, 60)),
            {},
            Doubt(
                rule="time-not-rising",
                reason=R.TIME_NOT_RISING,
                detail="two readings at one time, row 3",
                rows=(3,),
            ),
        ),
        (
            a_recording(at(0, 30, start=NOW + timedelta(minutes=11))),
            {},
            Doubt(rule="time-in-future", reason=R.TIME_IN_FUTURE, rows=(1, 2)),
        ),
        (
            a_recording(at(*range(0, 52 * 60, 60), 52 * 60 + 1, start=START - timedelta(days=2))),
            {},
            Doubt(
                rule="recording-too-long",
                reason=R.RECORDING_TOO_LONG,
                detail="52 h 1 min, at most 52 hours are expected",
                timeless=True,
            ),
        ),
        (
            a_recording(at(*range(0, 15 * 24 * 60 + 1, 60), start=START - timedelta(days=15))),
            {},
            Doubt(
                rule="recording-too-long",
                reason=R.RECORDING_TOO_LONG,
                detail="360 hours, at most 52 hours are expected",
                waivable=False,
                timeless=True,
            ),
        ),
        (
            a_recording(at(0, 30), person=a_person()),
            {"now": START.astimezone(UTC) + timedelta(days=60, minutes=31)},
            Doubt(rule="recording-too-old", reason=R.RECORDING_TOO_OLD, detail="more than 60 days ago"),
        ),
        (
            a_recording([a_reading(systolic=None, diastolic=None)]),
            {},
            Doubt(rule="nothing-valid", reason=R.NOTHING_VALID, waivable=False),
        ),
        (
            a_recording([a_reading(systolic=13, diastolic=8)]),
            {"limits": ReadingLimits(id="none", title="none")},
            Doubt(rule="units-doubtful", reason=R.UNITS_DOUBTFUL, waivable=False),
        ),
    ],
)
def test_doubts(recording: Recording, changes: dict[str, Any], expected: Doubt) -> None:
    assert doubts(recording, **changes) == [expected]


def test_years_that_no_clock_shows() -> None:
    """Old ones are too old besides."""
    first, *more = doubts(a_recording(SHORT_YEARS, diary=Diary()))
    assert first == Doubt(
        rule="time-unbelievable",
        reason=R.TIME_DOUBTFUL,
        detail="a year that cannot be",
        waivable=False,
        timeless=True,
    )
    assert "recording-too-old" in [one.rule for one in more]


def test_day_and_month_exchanged() -> None:
    """3 January, 3 February, 3 March are 1, 2 and 3 March with day and month exchanged: 48 hours."""
    found, broken = doubts(a_recording(SPREAD_OVER_MONTHS), now=datetime(2026, 3, 4, tzinfo=UTC))
    assert (broken.rule, broken.detail) == ("recording-broken", "744 hours without an attempt")
    assert found == Doubt(
        rule="time-day-month",
        reason=R.TIME_DOUBTFUL,
        detail="59 days; with day and month exchanged it would be one recording",
        waivable=False,
        timeless=True,
    )


def with_source(**changes: Any) -> Recording:
    parts = {"map_name": "plain", "map_version": "1", "encoding": "utf-8", "sha256": "0" * 64, "zone_origin": "file"}
    return a_recording(source=Source(**{**parts, **changes}))


SAID: list[tuple[Callable[[], Recording], dict[str, Any], tuple[str, Severity, str, tuple[int, ...]]]] = [
    (
        lambda: born(date(2010, 3, 3)),
        {},
        ("age-too-low", CAUTION, "Below the lowest age of 18 years: limits for adults are not applied.", ()),
    ),
    (
        lambda: born(None),
        {"person": replace(PERSON, birth_date_needed=False)},
        ("age-unknown", CAUTION, "The age is not known: limits for adults are not applied.", ()),
    ),
    (
        lambda: a_recording([*readings_over(), a_reading(readings_over()[-1].at, outcome=Outcome.FAILED, row=77)]),
        {},
        ("time-shared", NOTE, "Two attempts carry the same time.", (77,)),
    ),
    (
        lambda: a_recording(),
        {"now": START + timedelta(days=80), "time": TimeRules(hold_historical=False)},
        ("recording-too-old", CAUTION, "The recording ended more than 60 days ago.", ()),
    ),
    (
        lambda: a_recording(schedule=Schedule(interval_night=60, fitted_at=START + timedelta(minutes=1))),
        {},
        ("fitting-time", CAUTION, "The time of fitting does not go with the readings and is not used.", ()),
    ),
    (
        lambda: a_recording(schedule=Schedule(interval_day=30, interval_night=60, removed_at=START)),
        {},
        ("removal-time", CAUTION, "Readings go on after the time at which the monitor was taken off.", ()),
    ),
    (
        lambda: with_source(zone_origin="assumed"),
        {},
        ("zone-assumed", NOTE, "The time zone was not configured; Europe/London is assumed.", ()),
    ),
    (
        lambda: replace(with_source(zone_origin="assumed"), zone=None),
        {},
        ("zone-assumed", NOTE, "The time zone was not configured; an unnamed zone is assumed.", ()),
    ),
    (
        lambda: with_source(remarks=("The last line was cut off.",)),
        {},
        ("reader-remark", NOTE, "The last line was cut off.", ()),
    ),
    (
        lambda: a_recording(schedule=Schedule(interval_day=60, interval_night=60)),
        {},
        ("programme-differs", CAUTION, "Readings come more often than the programme in the file says.", ()),
    ),
    (
        lambda: a_recording(),
        {},
        (
            "programme-hours",
            NOTE,
            "The file does not say when the night interval began; the time asleep is used.",
            (),
        ),
    ),
    (
        lambda: a_recording(readings_over(every=lambda _: 30), schedule=Schedule(), diary=Diary()),
        {"guideline": guideline("esc-2024")},
        (
            "programme-inferred",
            NOTE,
            "Intervals of 30 minutes by day and 30 minutes by night were inferred from the times.",
            (),
        ),
    ),
    (
        lambda: a_recording(AWAKE_ALL_ALONG, schedule=Schedule(planned=10), diary=Diary()),
        {},
        ("programme-inferred", NOTE, "Intervals of 30 minutes were inferred from the times.", ()),
    ),
    (
        lambda: a_recording(readings_over(hours=20)),
        {},
        ("ended-early", CAUTION, "The readings stop after 19 hours; 24 hours were planned.", ()),
    ),
    (
        lambda: a_recording(readings_over(hours=26)),
        {},
        ("past-the-day", NOTE, "Readings after 24 hours count in no average.", (50, 51, 52, 53)),
    ),
    (
        lambda: a_recording(AWAKE_ALL_ALONG, diary=Diary()),
        {},
        ("no-sleep", CAUTION, "No sleep lies within the recording: all of it counts as awake.", ()),
    ),
    (
        lambda: a_recording([one for one in readings_over() if not 12 <= one.at.hour < 15]),
        {},
        ("gaps", CAUTION, "No valid reading for 2 hours or more: 11:30 to 15:00.", ()),
    ),
    (
        lambda: a_recording(
            [one for one in readings_over() if not (one.at.hour == 23 or one.at.hour < 3)],
        ),
        {},
        ("gaps", CAUTION, "No valid reading for 2 hours or more: 22:30 to 03:00 on 2026-03-04.", ()),
    ),
    (
        lambda: a_recording(readings_over(every=lambda _: 60), schedule=Schedule(interval_day=60, interval_night=60)),
        {"name": "nice-ng136"},
        (
            "programme-sparse",
            CAUTION,
            "One reading every 60 minutes awake; NICE NG136 asks for 2 in every waking hour.",
            (),
        ),
    ),
    (
        lambda: a_recording(),
        {},
        (
            "adequacy-rule",
            NOTE,
            "The rule of ESC 2024 for a good enough recording is known in a secondary source only.",
            (),
        ),
    ),
    (
        lambda: a_recording(),
        {
            "guideline": guideline("esc-2024").model_copy(
                update={"adequacy": guideline("esc-2024").adequacy.model_copy(update={"standing": Standing.MEMORY})}
            )
        },
        ("adequacy-rule", NOTE, "The rule of ESC 2024 for a good enough recording is known by memory only.", ()),
    ),
    (
        lambda: a_recording([*readings_over()[1:], a_reading(readings_over()[0].at, 261, 90, row=1)]),
        {},
        ("systolic-limits", NOTE, "1 reading kept out: systolic outside 50 to 260.", (1,)),
    ),
    (
        lambda: a_recording(
            [*readings_over()[2:], *(replace(one, heart_rate=2001) for one in readings_over()[:2])]  # type: ignore[arg-type]
        ),
        {},
        ("heart-rate-limits", NOTE, "2 readings kept without the heart rate: outside limits.", (10, 11)),
    ),
]


@pytest.mark.parametrize(("make", "changes", "expected"), SAID, ids=[said[2][0] for said in SAID])
def test_findings(
    make: Callable[[], Recording], changes: dict[str, Any], expected: tuple[str, Severity, str, tuple[int, ...]]
) -> None:
    recording = make()
    in_order = replace(recording, readings=tuple(sorted(recording.readings, key=lambda one: one.at.timestamp())))
    assert expected in told(in_order, **changes)


def test_a_test_number_is_noted_where_nobody_is_real() -> None:
    (found,) = (one for one in examined(a_recording()).findings if one.rule == "identifier-test")
    assert (found.severity, found.sentence) == (NOTE, "The person's number is a test number.")


def test_a_plain_recording_is_told_of_no_more_than_this() -> None:
    """Nothing is said that was not found: a rule that spoke without a cause would show here."""
    assert [one[0] for one in told(a_recording())] == ["programme-hours", "adequacy-rule"]
    seen = a_recording(schedule=Schedule(interval_day=30, interval_night=60, day_from=time(7), night_from=time(23)))
    assert [one[0] for one in told(seen, name="nice-ng136")] == []


@pytest.mark.parametrize(
    ("reading", "rule", "why"),
    [
        (a_reading(systolic=None, diastolic=None, failure=None), "no-pressure", "no pressure was measured"),
        (a_reading(systolic=None, diastolic=None, failure="E4"), "no-pressure", "no pressure was measured: E4"),
        (a_reading(systolic=None), "pressure-missing", "no systolic pressure"),
        (a_reading(diastolic=None), "pressure-missing", "no diastolic pressure"),
        (
            a_reading(systolic=None, diastolic=None, outcome=Outcome.MEASURED),
            "pressure-missing",
            "no systolic and no diastolic pressure",
        ),
        (a_reading(systolic=80, diastolic=80), "systolic-not-above-diastolic", "systolic is not above diastolic"),
        (a_reading(systolic=49.9, diastolic=40), "systolic-limits", "systolic outside 50 to 260"),
        (a_reading(systolic=200, diastolic=150.1), "diastolic-limits", "diastolic outside 30 to 150"),
        (a_reading(kind=Kind.FITTING), "fitting", "taken while the monitor was fitted: listed, not counted"),
        (a_reading(kind=Kind.MANUAL), "manual", "started by hand: listed, not counted"),
        (a_reading(), None, None),
    ],
)
def test_verdicts_on_single_readings(reading: Reading, rule: str | None, why: str | None) -> None:
    verdict = judge(reading, reading_limits())
    assert (verdict.rule, verdict.why) == (rule, why)


def test_a_narrow_pulse_pressure() -> None:
    """Paediatric limits ask for a pulse pressure; from memory."""
    limits = reading_limits("paediatric").pulse_pressure
    assert limits is not None
    below = float(limits.low) - 1
    verdict = judge(a_reading(systolic=80 + below, diastolic=80), reading_limits("paediatric"))
    assert (verdict.rule, verdict.why) == (
        "pulse-pressure-limits",
        f"pulse pressure outside {limits.low} to {limits.high}",
    )


def test_doubtful_sleep_is_a_doubt_that_may_be_let_pass() -> None:
    short = Diary(asleep=(Interval(START + timedelta(hours=14), START + timedelta(hours=16)),))
    found = examined(a_recording(diary=short))
    assert found.hold is not None
    assert (found.hold.reason, found.hold.detail) == (R.SLEEP_DOUBTFUL, "less than 3 hours of sleep")
    assert found.hold.rule == "sleep-doubtful"
    waived = examined(a_recording(diary=short), waived=["sleep-doubtful"])
    assert waived.hold is None
    assert [one.severity for one in waived.findings if one.rule == "sleep-doubtful"] == [CAUTION]


@pytest.mark.parametrize(
    ("rows", "text"),
    [
        ([4], "row 4"),
        ([4, 5], "rows 4, 5"),
        ([1, 2, 3, 4, 5], "rows 1, 2, 3, 4, 5"),
        ([1, 2, 3, 4, 5, 6, 7], "rows 1, 2, 3, 4, 5 and 2 more"),
    ],
)
def test_rows_in_words(rows: list[int], text: str) -> None:
    assert named_rows(rows) == text
