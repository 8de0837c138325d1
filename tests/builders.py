"""Builders with defaults, so that a test states only what it is about. Pressures are given in whole mmHg."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from gateway.model import (
    Circumstances,
    Diary,
    Identifier,
    Interval,
    Monitor,
    Outcome,
    Person,
    Reading,
    Recording,
    Schedule,
    Source,
    Tenths,
)

LONDON = ZoneInfo("Europe/London")
NHS = "https://fhir.nhs.uk/Id/nhs-number"
START = datetime(2026, 3, 3, 9, 0, tzinfo=LONDON)
NOW = datetime(2026, 3, 5, 12, 0, tzinfo=UTC)


def tenths(value: float | None) -> Tenths | None:
    return None if value is None else Tenths(round(value * 10))


def a_reading(
    at: datetime = START,
    systolic: float | None = 130,
    diastolic: float | None = 80,
    heart_rate: float | None = 70,
    row: int = 1,
    **more: Any,
) -> Reading:
    outcome = more.pop("outcome", Outcome.FAILED if systolic is None and diastolic is None else Outcome.MEASURED)
    if outcome is Outcome.FAILED:
        systolic = diastolic = heart_rate = None
        more.setdefault("failure", "no pulse found")
    return Reading(
        row=row,
        at=at,
        outcome=outcome,
        systolic=tenths(systolic),
        diastolic=tenths(diastolic),
        heart_rate=tenths(heart_rate),
        **more,
    )


def a_person(**changes: Any) -> Person:
    person = Person(
        identifier=Identifier(NHS, "9990000018"),
        family_name="Example",
        given_name="Alex",
        birth_date=date(1961, 4, 9),
    )
    return replace(person, **changes)


def day_and_night(moment: datetime) -> tuple[float, float, float]:
    """A plain dipping profile: 138/86 by day, 118/70 between 23:00 and 07:00, with a small ripple."""
    ripple = (moment.hour * 7 + moment.minute // 10) % 9 - 4
    if moment.hour >= 23 or moment.hour < 7:
        return 118 + ripple, 70 + ripple // 2, 58
    return 138 + ripple, 86 + ripple // 2, 74


def readings_over(
    start: datetime = START,
    hours: float = 24,
    every: Callable[[datetime], int] | None = None,
    profile: Callable[[datetime], tuple[float | None, float | None, float | None]] = day_and_night,
) -> tuple[Reading, ...]:
    """Readings at real-time steps from `start` for `hours`; `every` gives the step in minutes."""
    step = every or (lambda moment: 60 if moment.hour >= 23 or moment.hour < 7 else 30)
    zone = start.tzinfo
    found: list[Reading] = []
    instant = start.astimezone(UTC)
    end = instant + timedelta(hours=hours)
    while instant < end:
        local = instant.astimezone(zone)
        systolic, diastolic, heart_rate = profile(local)
        found.append(a_reading(local, systolic, diastolic, heart_rate, row=len(found) + 10))
        instant += timedelta(minutes=step(local))
    return tuple(found)


def a_recording(readings: Sequence[Reading] | None = None, **changes: Any) -> Recording:
    """A good 24-hour recording of 3 to 4 March 2026 in London, asleep 23:00 to 07:00 by diary."""
    recording = Recording(
        person=a_person(),
        monitor=Monitor(model="Example Monitor", serial="EX-0001"),
        schedule=Schedule(interval_day=30, interval_night=60),
        circumstances=Circumstances(),
        diary=Diary(
            asleep=(
                Interval(
                    datetime(2026, 3, 3, 23, 0, tzinfo=LONDON),
                    datetime(2026, 3, 4, 7, 0, tzinfo=LONDON),
                ),
            )
        ),
        readings=tuple(readings) if readings is not None else readings_over(),
        source=Source(map_name="plain", map_version="1", encoding="utf-8", sha256="0" * 64, zone_origin="file"),
        zone="Europe/London",
    )
    return replace(recording, **changes)
