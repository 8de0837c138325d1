"""A layout that we did not make, mapped by what mappings/README.md says and nothing else.

It is the data point "blood-pressure" of the open health schemas (Open mHealth, the forerunner of IEEE 1752.1), a list
of which is one JSON document. Names of header and body are those of the published description; the values are ours.
"""

import json
import tomllib
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from gateway.mapping.site import SiteDefaults
from gateway.mapping.source import SourceMap
from gateway.model import Hold, HoldReason, NoteKind, Recording
from gateway.read import read
from tests.unit.read.told import shipped

MAP = """
name = "data-points"
version = "1"
title = "A list of blood-pressure data points"
ignored = ["header/id", "header/creation_date_time", "header/schema_id/namespace", "header/schema_id/version",
    "header/acquisition_provenance/source_name", "header/acquisition_provenance/modality"]

[signs]
facts = ["header/schema_id/name"]
columns = ["effective_time_frame/date_time", "systolic_blood_pressure/value", "diastolic_blood_pressure/value"]

[format]
kind = "json"
rows = "body"

[person]
identifier = { fact = "header/user_id" }

[readings]
time = { how = "instant", column = "effective_time_frame/date_time", pattern = "iso" }
unit = { fact = "body/systolic_blood_pressure/unit", codes = { mmHg = "mmHg" } }
systolic = { column = "systolic_blood_pressure/value" }
diastolic = { column = "diastolic_blood_pressure/value" }
note = { column = "user_notes" }
diary = [{ column = "position_during_measurement", kind = "posture" }]
"""
SOURCE = SourceMap.model_validate(tomllib.loads(MAP))
SITE = SiteDefaults(zone="Europe/London", identifier_system="https://example.org/site-number")
BEGAN = datetime(2026, 3, 3, 9, 15, tzinfo=UTC)


def point(minutes: int, systolic: float, **body: Any) -> dict[str, Any]:
    return {
        "header": {
            "id": f"00000000-0000-4000-8000-{minutes:012}",
            "creation_date_time": "2026-03-04T10:00:00Z",
            "acquisition_provenance": {"source_name": "made for this test", "modality": "sensed"},
            "user_id": "A-0042",
            "schema_id": {"namespace": "omh", "name": "blood-pressure", "version": "1.0"},
        },
        "body": {
            "effective_time_frame": {"date_time": f"{BEGAN + timedelta(minutes=minutes):%Y-%m-%dT%H:%M:%SZ}"},
            "systolic_blood_pressure": {"unit": "mmHg", "value": systolic},
            "diastolic_blood_pressure": {"unit": "mmHg", "value": 78},
            **body,
        },
    }


def found(points: list[dict[str, Any]]) -> Recording | Hold:
    return read(json.dumps(points).encode(), "points.json", (*shipped(), SOURCE), SITE)


def test_a_list_of_data_points_is_a_recording() -> None:
    points = [point(20 * at, 120.5 + at) for at in range(72)]
    points[3]["body"] |= {"position_during_measurement": "lying down", "user_notes": "after lunch"}
    recording = found(points)
    assert isinstance(recording, Recording), recording
    assert [each.systolic for each in recording.readings] == [1205 + 10 * at for at in range(72)]
    assert [each.at for each in recording.readings] == [BEGAN + timedelta(minutes=20 * at) for at in range(72)]
    assert recording.person.identifier is not None
    assert recording.person.identifier.value == "A-0042"
    assert [(note.kind, note.text) for note in recording.diary.notes] == [(NoteKind.POSTURE, "lying down")]
    assert recording.readings[3].note == "after lunch"


def _unit(points: list[dict[str, Any]]) -> None:
    points[1]["body"]["systolic_blood_pressure"]["unit"] = "kPa"


def _person(points: list[dict[str, Any]]) -> None:
    points[1]["header"]["user_id"] = "A-0043"


def _time(points: list[dict[str, Any]]) -> None:
    points[1]["body"]["effective_time_frame"]["date_time"] = "yesterday"


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (_unit, HoldReason.FACTS_DISAGREE),
        (_person, HoldReason.FACTS_DISAGREE),
        (_time, HoldReason.TIME_UNREADABLE),
    ],
)
def test_data_points_that_do_not_belong_together_are_held(change: Any, reason: HoldReason) -> None:
    points = [point(20 * at, 120) for at in range(6)]
    change(points)
    hold = found(points)
    assert isinstance(hold, Hold)
    assert hold.reason is reason
