"""Every column of the table, in order."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from gateway.analyse.stating import unit_of
from gateway.model import PeriodName, StatisticName


@dataclass(frozen=True, slots=True)
class Column:
    """`unit` is a UCUM code, "" where there is none. `of`: the statistic and period that fill it, None for facts."""

    name: str
    meaning: str
    unit: str = ""
    of: tuple[StatisticName, PeriodName | None] | None = None

    @property
    def kind(self) -> Literal["text", "date", "count", "number"]:
        """What its cells are, where a file keeps types."""
        if self.of is not None or self.unit == "%":
            return "number"
        if self.name in ("date", "birth_date"):
            return "date"
        return "count" if self.unit else "text"


IDENTIFYING = (
    Column("identifier_system", "what kind of number the person's number is (URI)"),
    Column("identifier", "the person's number, as checked"),
    Column("birth_date", "date of birth"),
    Column("recording", "the gateway's number of the recording, for `bp-gateway status`"),
    Column("monitor_serial", "serial number of the monitor"),
)
"""Only with identifiers, which is a decision of a named person."""

_FACTS = (
    Column("person_pseudonym", "the same for every recording of one person, in every table of this gateway"),
    Column("recording_pseudonym", "the same for one recording in every table of this gateway"),
    Column("date", "local date on which the recording began"),
    Column("age", "age on that date in whole years; 90 stands for 90 and more", "a"),
    Column("delivered", "yes: at least one record server holds the result"),
    Column("days", "number of days in the recording; every other column is about the first one", "d"),
    Column("monitor_model", "model of the monitor"),
    Column("source_map", "map that read the export"),
    Column("guideline", "id of the guideline whose limits were used"),
    Column("review", "yes: readings met the local review rule"),
    Column("windows", "where awake and asleep came from: diary, marked, site, guideline"),
    Column("adequacy", "adequate, not-adequate or not-proven, by the rule of the guideline"),
    Column("findings", "names of the rules that noticed something, separated by blanks"),
)
_COUNTS = (
    ("scheduled", "readings due by the programme", "1"),
    ("attempted", "attempts, repeats included", "1"),
    ("valid", "scheduled readings that are valid", "1"),
    ("excluded", "measured readings that a named rule keeps out", "1"),
    ("failed", "attempts without a pressure", "1"),
    ("percent", "valid of scheduled readings", "%"),
)
RESULTS = (
    ("pressure", PeriodName.WHOLE),
    ("pressure", PeriodName.AWAKE),
    ("pressure", PeriodName.ASLEEP),
    ("systolic-dip", None),
    ("diastolic-dip", None),
    ("pattern", None),
    ("clinic-pattern", None),
)
"""Statements whose class has a column."""

_HOURLY = (
    StatisticName.SYSTOLIC_MEAN_HOURLY,
    StatisticName.DIASTOLIC_MEAN_HOURLY,
    StatisticName.HEART_RATE_MEAN_HOURLY,
)
_OF_THE_DAY = (
    StatisticName.SYSTOLIC_SD_WEIGHTED,
    StatisticName.DIASTOLIC_SD_WEIGHTED,
    StatisticName.SYSTOLIC_DIP,
    StatisticName.DIASTOLIC_DIP,
    StatisticName.HEART_RATE_DIP,
    StatisticName.SURGE_SLEEP_TROUGH,
    StatisticName.SURGE_PRE_WAKING,
    StatisticName.MORNING_MEAN,
    StatisticName.FIRST_HOUR_SYSTOLIC_MEAN,
    StatisticName.FIRST_HOUR_DIASTOLIC_MEAN,
    StatisticName.AASI,
    StatisticName.AASI_SYMMETRIC,
    StatisticName.SYSTOLIC_MESOR,
    StatisticName.SYSTOLIC_AMPLITUDE,
    StatisticName.SYSTOLIC_PEAK_TIME,
    StatisticName.SYSTOLIC_RHYTHM_F,
    StatisticName.SYSTOLIC_RHYTHM_P,
    StatisticName.DIASTOLIC_MESOR,
    StatisticName.DIASTOLIC_AMPLITUDE,
    StatisticName.DIASTOLIC_PEAK_TIME,
    StatisticName.DIASTOLIC_RHYTHM_F,
    StatisticName.DIASTOLIC_RHYTHM_P,
)
_PER_PERIOD = tuple(name for name in StatisticName if name not in (*_HOURLY, *_OF_THE_DAY))
_WORDS = {PeriodName.WHOLE: "24h", PeriodName.AWAKE: "awake", PeriodName.ASLEEP: "asleep"}


def column_name(what: str, period: PeriodName | None) -> str:
    """ "systolic-mean", awake -> "systolic_mean_awake"."""
    plain = what.replace("-", "_")
    return plain if period is None else f"{plain}_{_WORDS[period]}"


def _counts() -> Iterator[Column]:
    for period in PeriodName:
        for what, meaning, unit in _COUNTS:
            yield Column(column_name(what, period), f"{meaning}, {_WORDS[period]}", unit)


def _results() -> Iterator[Column]:
    for subject, period in RESULTS:
        where = f", {_WORDS[period]}" if period else ""
        meaning = f"class of {subject.replace('-', ' ')} in the guideline's file{where}; empty: nothing was stated"
        yield Column(column_name(f"{subject}-class", period), meaning)


def _statistics() -> Iterator[Column]:
    for names, periods in (
        (_PER_PERIOD, tuple(PeriodName)),
        (_HOURLY, (PeriodName.WHOLE,)),
        (_OF_THE_DAY, (None,)),
    ):
        for name in names:
            for period in periods:
                where = f", {_WORDS[period]}" if period else ""
                meaning = f"{name.replace('-', ' ')}{where}; empty: not computable"
                yield Column(column_name(name, period), meaning, unit_of(name), (name, period))


COLUMNS: tuple[Column, ...] = (*_FACTS, *_counts(), *_results(), *_statistics())
"""Columns of every table; with identifiers, `IDENTIFYING` stands before them."""
