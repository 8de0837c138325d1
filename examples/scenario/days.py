"""Invented days: a smooth curve of pressure over the day with a fixed, repeatable scatter."""

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

LONDON = ZoneInfo("Europe/London")


@dataclass(frozen=True)
class Shape:
    """How a person's pressure runs over the day. Awake level, fall in sleep, share of failed attempts."""

    awake: tuple[int, int, int]
    asleep: tuple[int, int, int]
    scatter: int = 6
    fails: float = 0.06
    sleep_from: int = 23
    sleep_to: int = 7
    worn_hours: float = 24.0


@dataclass(frozen=True)
class Attempt:
    """One attempt of an invented monitor; no values when it failed."""

    at: datetime
    systolic: int | None
    diastolic: int | None
    heart_rate: int | None


def asleep(shape: Shape, moment: datetime) -> bool:
    """Is this person asleep at that local moment?"""
    if shape.sleep_from < shape.sleep_to:
        return shape.sleep_from <= moment.hour < shape.sleep_to
    return moment.hour >= shape.sleep_from or moment.hour < shape.sleep_to


def attempts(shape: Shape, start: datetime, seed: int) -> Iterator[Attempt]:
    """Attempts every 30 minutes awake and every 60 asleep, in real time, from `start`."""
    chance = random.Random(seed)
    instant = start.astimezone(UTC)
    end = instant + timedelta(hours=shape.worn_hours)
    while instant < end:
        local = instant.astimezone(start.tzinfo)
        sleeping = asleep(shape, local)
        level = shape.asleep if sleeping else shape.awake
        wave = 4 * math.sin((local.hour + local.minute / 60 - 10) / 24 * 2 * math.pi)
        scatter = chance.gauss(0, shape.scatter)
        if chance.random() < shape.fails:
            yield Attempt(local, None, None, None)
        else:
            yield Attempt(
                local,
                round(level[0] + wave + scatter),
                round(level[1] + wave / 2 + scatter * 0.55 + chance.gauss(0, 2)),
                round(level[2] + scatter * 0.4 + chance.gauss(0, 2)),
            )
        instant += timedelta(minutes=60 if sleeping else 30)


def span_of_sleep(shape: Shape, start: datetime) -> tuple[datetime, datetime]:
    """First local span of sleep after `start`, wall-clock ends."""
    begin = start.replace(hour=shape.sleep_from, minute=0)
    if begin < start:
        begin += timedelta(days=1)
    hours = (shape.sleep_to - shape.sleep_from) % 24
    return begin, begin + timedelta(hours=hours)
