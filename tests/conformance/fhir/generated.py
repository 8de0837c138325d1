"""Recordings by chance, each with every choice that a site can make; the same seed gives the same resources."""

import random
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

from gateway import fhir
from gateway.analyse import summarise
from gateway.mapping.rules import ReviewRule, Rules
from gateway.model import (
    Arm,
    Circumstances,
    Diary,
    DiaryNote,
    HeartRateChoice,
    Kind,
    Monitor,
    NoteKind,
    Reading,
    ReadingsChoice,
    Recording,
    ReportChoice,
    Summary,
    Tenths,
)
from gateway.settings import default_person_rules
from gateway.settings.maps import Mappings
from gateway.validate import examine
from tests.builders import NOW, START, a_reading, a_recording
from tests.unit.fhir.building import PAGE, SOFTWARE, a_filing, identity_of

REVIEW = ReviewRule(name="local", systolic_at_or_above=Decimal(180), diastolic_at_or_above=Decimal(110))
TEXTS = (
    None,
    "Ordinary",
    "<b>Bold</b> & \u201cquoted\u201d",
    "\u03a0\u03af\u03b5\u03c3\u03b7\tand \u8840\u538b",
    " edges ",
)


def generated(seed: int, maps: Mappings) -> tuple[Recording, Summary, tuple[fhir.Resource, ...]]:
    """The first recording of this seed that validation does not hold, its summary, and what both become."""
    chance = random.Random(seed)
    while True:
        recording, rules = _recording(chance), _rules(chance, maps)
        examined = examine(recording, rules, NOW)
        if examined.hold is None:
            break
    filing = a_filing(
        readings=chance.choice(list(ReadingsChoice)),
        heart_rate=chance.choice(list(HeartRateChoice)),
        report=chance.choice(list(ReportChoice)),
        report_binary=chance.random() < 0.3,
        report_status=chance.choice(["preliminary", "final"]),
        interpretation=chance.random() < 0.8,
        snomed=chance.random() < 0.5,
    )
    profile = maps.profiles[chance.choice(sorted(maps.profiles))]
    summary, identity = summarise(recording, examined, rules), identity_of(recording)
    page = PAGE if chance.random() < 0.8 else None
    resources = fhir.compose(recording, summary, filing, identity, maps.codes, profile, NOW, page, SOFTWARE)
    return recording, summary, resources


def changed(recording: Recording) -> Recording:
    """Another export of a recording: one value is another, one reading is new."""
    first, second, *others = recording.readings
    assert second.systolic is not None
    added = replace(second, at=second.at + timedelta(minutes=7), row=len(recording.readings) + 1)
    other = replace(second, systolic=Tenths(second.systolic + 70))
    return replace(recording, readings=(first, other, added, *others))


def _rules(chance: random.Random, maps: Mappings) -> Rules:
    return Rules(
        guideline=maps.guidelines[chance.choice(sorted(maps.guidelines))],
        limits=maps.limits["widest"],
        review=REVIEW if chance.random() < 0.5 else None,
        person=default_person_rules(),
    )


def _recording(chance: random.Random) -> Recording:
    step = chance.choice([40, 60, 90])
    fails = chance.choice([0.0, 0.05, 0.3])
    hours = chance.choice([22, 24, 24, 25])
    moments = [START + timedelta(minutes=step * number) for number in range(hours * 60 // step)]
    readings = [_reading(chance, at, row, fails) for row, at in enumerate(moments, start=1)]
    diary = a_recording().diary if chance.random() < 0.8 else Diary()
    changes = {"diary": replace(diary, notes=_notes(chance, moments))}
    return a_recording(
        readings,
        monitor=Monitor(
            model=chance.choice(TEXTS),
            serial=chance.choice([None, "EX-1", "S 2 & 3"]),
            cuff_size=chance.choice([None, "adult", "large <arm>"]),
            arm_circumference=chance.choice([None, 31.5, 28.0]),
            arm=chance.choice([None, *Arm]),
        ),
        circumstances=Circumstances(
            order=chance.choice([None, "ORD-17"]),
            treated=chance.choice([None, True, False]),
            irregular_pulse=chance.choice([None, None, True]),
            clinic_systolic=(clinic := chance.choice([None, Tenths(1380), Tenths(1520)])),
            clinic_diastolic=Tenths(880) if clinic else None,
        ),
        **changes,
    )


def _notes(chance: random.Random, moments: list[datetime]) -> tuple[DiaryNote, ...]:
    """Some of a reading, some between readings."""
    times = [
        chance.choice(moments) + timedelta(minutes=chance.choice([0, 0, 7])) for _ in range(chance.choice([0, 0, 4]))
    ]
    words = ["sitting", "Supine", "on the sofa", "<b>tablet</b> & water"]
    return tuple(DiaryNote(at, chance.choice(list(NoteKind)), chance.choice(words)) for at in sorted(times))


def _reading(chance: random.Random, at: datetime, row: int, fails: float) -> Reading:
    kind = chance.choices(list(Kind), weights=[20, *[1] * (len(Kind) - 1)])[0]
    if chance.random() < fails:
        return a_reading(at, None, None, row=row, kind=kind, failure=chance.choice(["cuff-error", "E 3", "<moved>"]))
    level = 115 if at.hour >= 23 or at.hour < 7 else chance.choice([128, 136, 160])
    systolic = level + chance.gauss(0, 12)
    odd = chance.random()
    diastolic = systolic + 5 if odd < 0.02 else systolic * 0.62
    return a_reading(
        at,
        round(systolic, chance.choice([0, 1])),
        round(diastolic),
        None if odd > 0.9 else 250 if odd > 0.88 else round(chance.gauss(72, 8)),
        row=row,
        kind=kind,
        mean=chance.choice([None, Tenths(round(systolic * 7.5))]),
        irregular=chance.choice([None, False, False, True]),
        note=chance.choice(TEXTS),
    )
