"""Invented recordings of every kind that the page must show well. Nobody in them exists."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from math import sin
from zoneinfo import ZoneInfo

from gateway.analyse.telling import told
from gateway.model import (
    Arm,
    Circumstances,
    Diary,
    DiaryNote,
    Identifier,
    Interval,
    Kind,
    Monitor,
    NoteKind,
    Reading,
    Recording,
    Schedule,
    Sex,
    Summary,
    Tenths,
)
from gateway.report import Letterhead, Paper
from gateway.settings.maps import load
from tests.builders import LONDON, NHS, a_person, a_reading, a_recording, readings_over
from tests.unit.report.summing import summary_of

SURGERY = Letterhead(
    organisation="Example Surgery", software="ambulatory-bp-gateway 0.1.0", fingerprint="8f2c-41aa-90d7"
)
LANGUAGES = load(None).languages
WORN = Monitor(model="Example Monitor", serial="EX-0001", cuff_size="large adult", arm_circumference=36, arm=Arm.LEFT)


@dataclass(frozen=True)
class Case:
    """One page: what was recorded, what the analysis made of it, on which paper."""

    name: str
    recording: Recording
    letterhead: Letterhead = SURGERY

    @property
    def summary(self) -> Summary:
        return told(summary_of(self.recording), LANGUAGES[self.letterhead.language])


def at(day: int, hour: int, minute: int = 0, zone: ZoneInfo = LONDON, month: int = 3) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=zone)


def course(
    awake: tuple[int, int, int] = (138, 86, 74),
    asleep: tuple[int, int, int] = (118, 70, 58),
    sleeps: Callable[[datetime], bool] = lambda moment: moment.hour >= 23 or moment.hour < 7,
    swing: float = 1,
) -> Callable[[datetime], tuple[float, float, float]]:
    """A plausible course around two levels, the same at every run."""

    def values(moment: datetime) -> tuple[float, float, float]:
        step = moment.timestamp() / 1200
        ripple = swing * (6 * sin(step * 1.7) + 4 * sin(step * 0.9 + 1))
        upper, lower, rate = asleep if sleeps(moment) else awake
        return round(upper + ripple), round(lower + 0.6 * ripple), round(rate + 0.4 * ripple)

    return values


def every_20_or_30(moment: datetime) -> int:
    return 30 if moment.hour >= 23 or moment.hour < 7 else 20


def spoilt(readings: tuple[Reading, ...], rows: tuple[int, ...]) -> tuple[Reading, ...]:
    """Some attempts without a pressure."""
    return tuple(
        a_reading(one.at, None, None, row=one.row, failure="movement") if place in rows else one
        for place, one in enumerate(readings)
    )


def adequate() -> Recording:
    readings = list(spoilt(readings_over(every=every_20_or_30, profile=course()), (14, 40, 52)))
    readings[0] = replace(readings[0], kind=Kind.FITTING)
    readings[20] = a_reading(readings[20].at, 268, 80, 74, row=readings[20].row)
    notes = (
        DiaryNote(at(3, 9, 40), NoteKind.MEDICATION, "morning tablets"),
        DiaryNote(at(3, 15, 5), NoteKind.SYMPTOM, "dizzy on standing up"),
        DiaryNote(at(3, 15, 20), NoteKind.POSTURE, "sat down"),
    )
    recording = a_recording(readings, schedule=Schedule(interval_day=20, interval_night=30), monitor=WORN)
    facts = Circumstances(
        treated=True, indication="treatment review", clinic_systolic=Tenths(1520), clinic_diastolic=Tenths(940)
    )
    return replace(recording, diary=replace(recording.diary, notes=notes), circumstances=facts, site="Room 2")


def inadequate() -> Recording:
    readings = tuple(one for one in readings_over(profile=course()) if not (one.at.hour >= 18 or one.at.hour < 6))
    return a_recording(spoilt(readings, tuple(range(2, 20, 2))), monitor=WORN)


def day_sleeper() -> Recording:
    start = at(3, 19)
    by_day = course(sleeps=lambda moment: 9 <= moment.hour < 16)
    readings = readings_over(start, every=lambda _: 30, profile=by_day)
    return a_recording(readings, monitor=WORN, diary=Diary(asleep=(Interval(at(4, 9), at(4, 16)),)))


def two_days() -> Recording:
    sleep = tuple(Interval(at(day, 23), at(day + 1, 7)) for day in (3, 4))
    readings = readings_over(hours=48, every=lambda _: 30, profile=course(awake=(131, 82, 70)))
    planned = Schedule(interval_day=30, interval_night=30, planned=48)
    return a_recording(readings, diary=Diary(asleep=sleep), schedule=planned, monitor=WORN)


def two_readings() -> Recording:
    return a_recording((a_reading(at(3, 9), 141, 88, 71, row=10), a_reading(at(3, 9, 30), 139, 87, 70, row=11)))


def all_failed() -> Recording:
    return a_recording(tuple(a_reading(one.at, None, None, row=one.row) for one in readings_over()))


def child() -> Recording:
    person = a_person(family_name="Sample", given_name="Robin", birth_date=date(2016, 5, 2), sex=Sex.FEMALE)
    readings = readings_over(every=every_20_or_30, profile=course((112, 68, 92), (98, 57, 76)))
    return a_recording(readings, person=person, schedule=Schedule(interval_day=20, interval_night=30), monitor=WORN)


def extremes() -> Recording:
    readings = list(readings_over(every=every_20_or_30, profile=course((205, 118, 104), (176, 98, 88), swing=3)))
    readings[9] = a_reading(readings[9].at, 258, 147, 139, row=readings[9].row)
    readings[30] = a_reading(readings[30].at, 64, 33, 41, row=readings[30].row)
    readings[33] = a_reading(readings[33].at, 299, 12, 255, row=readings[33].row)
    return a_recording(readings, schedule=Schedule(interval_day=20, interval_night=30), monitor=WORN)


def long_names() -> Recording:
    hostile = '#emph[x] *b* $a$ `r` "q" \\ <l> @ref \u202e\x00\x07' + "#import " * 9
    person = a_person(family_name="Featherstonehaugh-Wolfeschlegelstein" * 4, given_name="Maximiliane " * 9)
    worn = replace(WORN, model="An Extraordinarily Long Monitor Name " * 4, serial="S" * 90)
    notes = tuple(DiaryNote(at(3, 10 + n), NoteKind.TEXT, hostile) for n in range(10))
    recording = a_recording(readings_over(profile=course()), person=person, monitor=worn, site="Site " * 40)
    return replace(recording, diary=replace(recording.diary, notes=notes))


def named(family: str, given: str) -> Recording:
    return a_recording(
        readings_over(profile=course()), person=a_person(family_name=family, given_name=given), monitor=WORN
    )


def no_heart_rate() -> Recording:
    steady = course((127, 78, 0), (109, 64, 0))
    readings = readings_over(profile=lambda moment: (*steady(moment)[:2], None))
    return a_recording(readings, monitor=WORN)


def clock_change() -> Recording:
    """Clocks in London go forward at 01:00 on 29 March 2026 (EU summer time rule, in the IANA tz database)."""
    readings = readings_over(at(28, 9), every=lambda _: 30, profile=course())
    return a_recording(
        readings,
        monitor=WORN,
        schedule=Schedule(interval_day=30, interval_night=30),
        diary=Diary(asleep=(Interval(at(28, 23), at(29, 7)),)),
    )


def abroad() -> Recording:
    zone = ZoneInfo("Europe/Warsaw")
    person = a_person(
        identifier=Identifier(NHS, "9990000026"), family_name="Żółkiewski-Łęcki", given_name="Święcisław"
    )
    readings = readings_over(at(3, 8, zone=zone), profile=course())
    sleep = Diary(asleep=(Interval(at(3, 23, zone=zone), at(4, 7, zone=zone)),))
    return a_recording(readings, person=person, zone="Europe/Warsaw", diary=sleep, monitor=WORN)


LETTER = replace(SURGERY, paper=Paper.LETTER, kpa=True, readings=True)
CASES = (
    Case("adequate", adequate()),
    Case("inadequate", inadequate()),
    Case("day-sleeper", day_sleeper()),
    Case("two-days", two_days()),
    Case("two-readings", two_readings()),
    Case("all-failed", all_failed()),
    Case("child", child()),
    Case("extreme-values", extremes()),
    Case("long-and-hostile-text", long_names()),
    Case("right-to-left", named("בן־דוד", "אברהם")),
    Case("arabic", named("الأحمدي", "ليلى")),
    Case("greek", named("Παπαδοπούλου", "Ελένη")),
    Case("chinese", named("欧阳", "晓明")),
    Case("polish-german", abroad(), replace(SURGERY, language="de")),
    Case("no-heart-rate-french", no_heart_rate(), replace(SURGERY, language="fr", kpa=True)),
    Case("clock-change", clock_change()),
    Case("letter-kpa-every-reading", adequate(), LETTER),
)
BY_NAME = {case.name: case for case in CASES}
DAY = timedelta(days=1)
