"""Shipped guidelines and limits as rules, and recordings with a chosen number of valid readings."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from gateway.mapping.guideline import Guideline
from gateway.mapping.limits import ReadingLimits
from gateway.mapping.parse import parse
from gateway.mapping.rules import PersonRules, Rules
from gateway.model import Examined, Kind, Outcome, PeriodName, Reading, Recording, Schedule
from gateway.validate import examine
from tests.builders import LONDON, NHS, NOW, START, a_reading, a_recording

MAPPINGS = Path(__file__).parents[3] / "mappings"
PERSON = PersonRules(systems={NHS: "gb.nhs"}, test_numbers={NHS: r"999\d{7}"})


@cache
def guideline(name: str) -> Guideline:
    return parse((MAPPINGS / "guidelines" / f"{name}.toml").read_bytes(), Guideline, name)


@cache
def reading_limits(name: str = "widest") -> ReadingLimits:
    return parse((MAPPINGS / "limits" / f"{name}.toml").read_bytes(), ReadingLimits, name)


def rules(name: str = "esc-2024", **changes: Any) -> Rules:
    parts = {"guideline": guideline(name), "limits": reading_limits(), "person": PERSON}
    return Rules(**{**parts, **changes})


def examined(recording: Recording, name: str = "esc-2024", now: datetime = NOW, **changes: Any) -> Examined:
    waived = frozenset(changes.pop("waived", ()))
    return examine(recording, rules(name, **changes), now, waived)


def found(result: Examined) -> list[str]:
    return [finding.rule for finding in result.findings]


def count(result: Examined, period: PeriodName, day: int = 1) -> Any:
    assert result.adequacy is not None
    return result.adequacy.count(period, day)


def is_night(moment: datetime) -> bool:
    return moment.hour >= 23 or moment.hour < 7


def attempts(
    by_day: int = 30, by_night: int = 60, hours: float = 24, start: datetime = START, kind: Kind = Kind.SCHEDULED
) -> list[datetime]:
    """Local instants of a programme with night from 23:00 to 07:00, in real time."""
    at, end, times = start.astimezone(UTC), start.astimezone(UTC) + timedelta(hours=hours), []
    while at < end:
        local = at.astimezone(LONDON)
        times.append(local)
        at += timedelta(minutes=by_night if is_night(local) else by_day)
    return times


def with_valid(awake: int, asleep: int, by_day: int = 30, by_night: int = 60, **changes: Any) -> Recording:
    """A full day of which only so many attempts gave a pressure; the others failed. Failures are spread evenly."""
    times = attempts(by_day, by_night)
    good = _evenly([t for t in times if not is_night(t)], awake) | _evenly([t for t in times if is_night(t)], asleep)
    readings = [
        a_reading(at, row=row) if at in good else a_reading(at, outcome=Outcome.FAILED, row=row)
        for row, at in enumerate(times, start=1)
    ]
    changes.setdefault("schedule", Schedule(interval_day=by_day, interval_night=by_night))
    return a_recording(readings, **changes)


def _evenly(times: list[datetime], wanted: int) -> set[datetime]:
    assert wanted <= len(times)
    return {times[position * len(times) // wanted] for position in range(wanted)} if wanted else set()


def each(times: list[datetime], make: Callable[[datetime, int], Reading]) -> list[Reading]:
    return [make(at, row) for row, at in enumerate(times, start=1)]
