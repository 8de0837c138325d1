"""A recording as the plain words of the twin files beside the sample exports."""

from pathlib import Path
from typing import Any

from gateway.mapping.parse import parse
from gateway.mapping.source import SourceMap
from gateway.model import Outcome, Reading, Recording, Tenths

ROOT = Path(__file__).parents[3]
SAMPLES = ROOT / "examples" / "exports"


def shipped(*names: str) -> tuple[SourceMap, ...]:
    """The source maps that come with the gateway, all or those named."""
    files = sorted((ROOT / "mappings" / "sources").glob("*.toml"))
    found = tuple(parse(file.read_bytes(), SourceMap, file.name) for file in files)
    return tuple(each for each in found if not names or each.name in names)


def told(recording: Recording) -> dict[str, Any]:
    person, monitor, schedule, around = (
        recording.person,
        recording.monitor,
        recording.schedule,
        recording.circumstances,
    )
    return {
        "map": recording.source.map_name,
        "encoding": recording.source.encoding,
        "zone": recording.zone,
        "zone_origin": recording.source.zone_origin,
        "site": recording.site,
        "person": [
            person.identifier and person.identifier.system,
            person.identifier and person.identifier.value,
            person.family_name,
            person.given_name,
            person.birth_date and person.birth_date.isoformat(),
            person.sex,
        ],
        "monitor": [monitor.model, monitor.serial, monitor.cuff_size, monitor.arm_circumference, monitor.arm],
        "schedule": [
            schedule.interval_day,
            schedule.interval_night,
            schedule.day_from and schedule.day_from.isoformat(),
            schedule.night_from and schedule.night_from.isoformat(),
            schedule.planned,
            schedule.fitted_at and schedule.fitted_at.isoformat(),
            schedule.removed_at and schedule.removed_at.isoformat(),
        ],
        "circumstances": [
            around.order,
            around.indication,
            around.treated,
            around.pregnancy_weeks,
            around.irregular_pulse,
            number(around.clinic_systolic),
            number(around.clinic_diastolic),
        ],
        "asleep": [[span.start.isoformat(), span.end.isoformat()] for span in recording.diary.asleep],
        "notes": [f"{note.at.isoformat()} {note.kind}: {note.text}" for note in recording.diary.notes],
        "facts": [list(fact) for fact in recording.facts],
        "remarks": list(recording.source.remarks),
        "readings": [line(reading) for reading in recording.readings],
    }


def number(value: Tenths | None) -> float | None:
    return None if value is None else value / 10


def line(reading: Reading) -> str:
    """One attempt as one line."""
    values = [
        "-" if each is None else str(each / 10)
        for each in (reading.systolic, reading.diastolic, reading.mean, reading.heart_rate)
    ]
    if reading.outcome is Outcome.MEASURED:
        outcome = f"measured {values[0]}/{values[1]} mean {values[2]} pulse {values[3]}"
    else:
        outcome = f"failed {reading.failure!r}"
    irregular = {None: "", True: " irregular", False: " even"}[reading.irregular]
    note = f" note {reading.note!r}" if reading.note else ""
    return f"row {reading.row}: {reading.at.isoformat()} {outcome} {reading.kind}{irregular}{note}"
