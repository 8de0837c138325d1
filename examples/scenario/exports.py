"""The exports that the nurse of Larkmoor Surgery drops into the inbox, one after the other, and how each must end."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import Enum

from scenario import layouts, people
from scenario.days import LONDON, Shape

QUIET = Shape(awake=(122, 76, 74), asleep=(106, 62, 60))
RAISED = Shape(awake=(146, 91, 78), asleep=(126, 75, 64))
RESTLESS = Shape(awake=(133, 82, 76), asleep=(117, 70, 62), fails=0.72)
FLAT_AND_HIGH = Shape(awake=(168, 98, 84), asleep=(166, 96, 80), scatter=7)
NIGHT_WORKER = Shape(awake=(131, 83, 76), asleep=(114, 68, 60), sleep_from=9, sleep_to=16)


class Drop(Enum):
    """How a file comes into the inbox."""

    WHOLE = "in one go"
    IN_TWO_GOES = "half first, the rest three seconds later"


@dataclass(frozen=True)
class Export:
    """One dropped file. `ends` is "delivered", "again" or the reason for the hold."""

    name: str
    content: bytes
    tale: str
    who: people.Someone | None
    ends: str
    drop: Drop = Drop.WHOLE


def exports(today: date) -> Iterator[Export]:
    """All files of the scenario, worn the day before yesterday, so that no date is ever too old."""
    nine = datetime.combine(today - timedelta(days=2), time(9, 0), LONDON)
    six = datetime.combine(today - timedelta(days=2), time(18, 0), LONDON)
    ada = layouts.plain(people.ADA, QUIET, nine, serial="LM-01", seed=1)
    yield Export("monday-1.csv", ada, "a good recording, neutral layout", people.ADA, "delivered")
    yield Export(
        "rec_0002.txt",
        layouts.second(people.MIRO, RAISED, nine + timedelta(minutes=20), serial="LM-02", seed=2),
        "a good recording in the second layout, above the limit",
        people.MIRO,
        "delivered",
    )
    yield Export(
        "monday-3.csv",
        layouts.plain(people.INES, RESTLESS, nine, serial="LM-03", seed=3),
        "too many failed attempts: filed as not adequate",
        people.INES,
        "delivered",
    )
    yield Export(
        "monday-4.csv",
        layouts.plain(people.TOMAS, FLAT_AND_HIGH, nine + timedelta(minutes=10), serial="LM-04", seed=4),
        "high by day and night, no fall in sleep",
        people.TOMAS,
        "delivered",
    )
    yield Export("copy of monday-1.csv", ada, "the same file once more, under another name", people.ADA, "again")
    yield Export(
        "monday-6.csv",
        layouts.plain(people.WREN, QUIET, nine + timedelta(minutes=40), serial="LM-06", seed=6),
        "written in two goes, as a slow share would",
        people.WREN,
        "delivered",
        Drop.IN_TWO_GOES,
    )
    yield Export(
        "night-worker.csv",
        layouts.plain(people.JORY, NIGHT_WORKER, six, serial="LM-07", seed=7),
        "works at night, sleeps by day",
        people.JORY,
        "delivered",
    )
    yield Export(
        "monday-8.csv",
        layouts.plain(people.ODA, QUIET, nine, serial="LM-08", seed=8),
        "a person whom the record does not know",
        people.ODA,
        "person-not-found",
    )
    yield Export(
        "monday-9.csv",
        layouts.plain(people.BRAM, RAISED, nine, serial="LM-09", seed=9, born=date(1968, 2, 28)),
        "the birth date differs from the record's",
        people.BRAM,
        "person-mismatch",
    )
    yield Export(
        "wrong-digit.csv",
        layouts.plain(people.WREN, QUIET, nine, serial="LM-10", seed=10, number="9990000051"),
        "one digit of the number is wrong",
        None,
        "identifier-invalid",
    )
    yield Export(
        "damaged.csv", ada[:900] + bytes(range(256)) * 4, "damaged on the way: cannot be read", None, "file-encoding"
    )
