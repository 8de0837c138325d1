"""What comes into the inboxes: recordings, repeated and changed files, and files that must be held."""

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from scenario import layouts
from scenario.days import LONDON, Shape
from scenario.people import Someone

NIGHT = timedelta(days=2)


@dataclass(frozen=True)
class File:
    """One dropped file. `recording` groups the files of one recording: all but one of different content are held.

    `recording` "" where the file can never be filed.
    """

    name: str
    content: bytes
    who: Someone
    recording: str


def everybody(count: int) -> list[Someone]:
    """People with numbers of the published test range (999 ...), every 25th unknown to the record."""
    return [
        Someone(
            number,
            f"Given{index}",
            f"Family{index}",
            date(1940 + index % 40, 1 + index % 12, 3),
            sex,
            index % 25 != 24,
        )
        for index, (number, sex) in enumerate(zip(_numbers(count), _sexes(), strict=False))
    ]


def _sexes() -> Iterator[str]:
    while True:
        yield from ("female", "male")


def _numbers(count: int) -> Iterator[str]:
    """Valid NHS numbers; the check digit is modulus 11 (NHS Data Dictionary, NHS NUMBER)."""
    body = 100_000
    while count:
        text = f"999{body}"
        body += 1
        check = 11 - sum(int(digit) * weight for digit, weight in zip(text, range(10, 1, -1), strict=True)) % 11
        if check != 10:
            count -= 1
            yield f"{text}{check % 11}"


def files(people: list[Someone], count: int, chance: random.Random, today: date) -> Iterator[File]:
    """The files of `count` recordings, in the order in which they come. Several recordings of one person come in the
    order in which they were worn.
    """
    for index in range(count):
        who = people[index % len(people)]
        worn = datetime.combine(today, time(9), LONDON) - NIGHT - timedelta(days=3 * (count // len(people)))
        start = worn + timedelta(days=3 * (index // len(people)), minutes=chance.randrange(60))
        yield from _of_one(f"{index:05}", who, start, chance)


def _of_one(name: str, who: Someone, start: datetime, chance: random.Random) -> Iterator[File]:
    shape = Shape(awake=(chance.randrange(110, 170), 80, 74), asleep=(chance.randrange(100, 150), 66, 60))
    make = layouts.plain if chance.random() < 0.7 else layouts.second
    ending = ".csv" if make is layouts.plain else ".txt"
    content = make(who, shape, start, serial=f"OR-{name}", seed=int(name))
    first = File(name + ending, content, who, name if who.registered else "")
    yield first
    lot = chance.random()
    if lot < 0.12:
        yield replace(first, name=f"{name} again{ending}")
    elif lot < 0.20:  # the same recording, exported once more with a changed reading
        yield replace(first, name=f"{name} changed{ending}", content=_changed(content))
    elif lot < 0.24:
        yield File(f"{name} damaged{ending}", content[:900] + bytes(range(256)), who, "")


def _changed(content: bytes) -> bytes:
    """One systolic value differs by one; everything else is the same."""
    for marker in (b",measured,", b";well;"):
        if marker in content:
            line = next(line for line in content.split(b"\r\n") if marker in line)
            cells = line.split(marker[:1])
            place = 1 if marker == b",measured," else 4
            number, _, rest = cells[place].partition(b",")
            cells[place] = str(int(number) + 1).encode() + (b"," + rest if rest else b"")
            return content.replace(line, marker[:1].join(cells), 1)
    raise AssertionError("a file without a reading")
