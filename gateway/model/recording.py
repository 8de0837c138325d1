"""What was read from one export: a person, a monitor, a schedule, a diary and the readings."""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from enum import StrEnum

from gateway.model.period import Interval
from gateway.model.quantity import Tenths

_FITTED_BEFORE = timedelta(hours=24)
"""a monitor fitted longer before its first attempt was fitted for another recording; common practice"""


@dataclass(frozen=True, slots=True)
class Identifier:
    """A person's number and the system that issued it (a URI)."""

    system: str
    value: str


class Sex(StrEnum):
    """Administrative sex, as FHIR R4 `administrative-gender` words it."""

    FEMALE = "female"
    MALE = "male"
    OTHER = "other"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """The person as the export names them. Nothing here was confirmed by a record server yet."""

    identifier: Identifier | None = None
    family_name: str | None = None
    given_name: str | None = None
    birth_date: date | None = None
    sex: Sex | None = None


class Arm(StrEnum):
    """Arm that wore the cuff."""

    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True, kw_only=True)
class Monitor:
    """The monitor and how it was fitted. `arm_circumference` is in centimetres. `location` and `calibration_due` are
    what the site's register has of it.
    """

    model: str | None = None
    serial: str | None = None
    cuff_size: str | None = None
    arm_circumference: float | None = None
    arm: Arm | None = None
    location: str | None = None
    calibration_due: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """What the monitor was programmed to do. Intervals are whole minutes, `planned` whole hours.

    `day_from` and `night_from` are local clock times between which each interval holds. They describe the
    programme, never the person's sleep.
    """

    interval_day: int | None = None
    interval_night: int | None = None
    day_from: time | None = None
    night_from: time | None = None
    planned: int | None = None
    fitted_at: datetime | None = None
    removed_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """Facts around the recording that change how its numbers may be read. Pressures in tenths of mmHg."""

    order: str | None = None
    indication: str | None = None
    treated: bool | None = None
    pregnancy_weeks: int | None = None
    irregular_pulse: bool | None = None
    clinic_systolic: Tenths | None = None
    clinic_diastolic: Tenths | None = None


class NoteKind(StrEnum):
    """What a diary entry is about."""

    MEDICATION = "medication"
    POSTURE = "posture"
    SYMPTOM = "symptom"
    TEXT = "text"


@dataclass(frozen=True, slots=True)
class DiaryNote:
    """One entry of the diary other than sleep."""

    at: datetime
    kind: NoteKind
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Diary:
    """What the person wrote down. `asleep` may hold several spans (night, nap), in order, not overlapping."""

    asleep: tuple[Interval, ...] = ()
    notes: tuple[DiaryNote, ...] = ()


class Outcome(StrEnum):
    """Did the attempt give a pressure?"""

    MEASURED = "measured"
    FAILED = "failed"


class Kind(StrEnum):
    """Why the monitor inflated."""

    SCHEDULED = "scheduled"
    REPEAT = "repeat"
    MANUAL = "manual"
    FITTING = "fitting"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One attempt of the monitor, in the order of the file.

    `row` is the 1-based line (or sheet row, or segment) of the file. Pressures and heart rate are whole tenths
    of mmHg and of beats per minute; None is "not there". A failed attempt has no values; `failure` is the raw
    mark of the file ("E4", "0", "cuff-error"). `mean` is only ever the mean pressure that the monitor measured.
    `asleep_mark` is a sleep mark that the source map declares to be a diary, else None.
    `raw` keeps the cells as they stood in the file, including an original unit.
    """

    row: int
    at: datetime
    outcome: Outcome
    systolic: Tenths | None = None
    diastolic: Tenths | None = None
    mean: Tenths | None = None
    heart_rate: Tenths | None = None
    kind: Kind = Kind.SCHEDULED
    failure: str | None = None
    irregular: bool | None = None
    asleep_mark: bool | None = None
    note: str | None = None
    raw: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        if self.at.utcoffset() is None:
            raise ValueError("a reading needs an aware instant")
        values = (self.systolic, self.diastolic, self.mean, self.heart_rate)
        if self.outcome is Outcome.FAILED and any(value is not None for value in values):
            raise ValueError("a failed attempt has no values")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """How the file was read: the map that claimed it, its encoding, the hash of its bytes (hex SHA-256),
    whether the zone was taken from "cell", "file", "site" or "assumed", and remarks of the reader."""

    map_name: str
    map_version: str
    encoding: str
    sha256: str
    zone_origin: str
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """One 24-hour (or longer) ambulatory blood-pressure recording of one person, as the export tells it.

    `zone` is an IANA name, or None where every cell carried its own offset. `readings` keep the file's order.
    """

    person: Person
    monitor: Monitor
    schedule: Schedule
    circumstances: Circumstances
    diary: Diary
    readings: tuple[Reading, ...]
    source: Source
    site: str | None = None
    zone: str | None = None
    facts: tuple[tuple[str, str], ...] = field(default=())
    """Rows of the preamble that the map knows but that have no field of their own."""

    def __post_init__(self) -> None:
        if not self.readings:
            raise ValueError("a recording has at least one attempt")

    @property
    def began(self) -> datetime:
        """First attempt in time."""
        return min((reading.at for reading in self.readings), key=datetime.timestamp)

    @property
    def ended(self) -> datetime:
        """Last attempt in time."""
        return max((reading.at for reading in self.readings), key=datetime.timestamp)

    @property
    def fitted(self) -> datetime | None:
        """Time of fitting where it goes with the readings, within the 24 hours before the first attempt."""
        at = self.schedule.fitted_at
        if at is None or not 0 <= self.began.timestamp() - at.timestamp() <= _FITTED_BEFORE.total_seconds():
            return None
        return at
