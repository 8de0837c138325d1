"""The record server of the invented surgery, with its people registered."""

from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from scenario import people
from scenario.record import RecordServer


@pytest.fixture
def record(tmp_path: Path) -> Iterator[RecordServer]:
    with RecordServer(tmp_path / "record") as server:
        for number, person in enumerate((each for each in people.EVERYBODY if each.registered), start=1):
            server.put({**person.patient, "id": f"larkmoor-{number}"})
        yield server


@pytest.fixture
def today() -> date:
    return datetime.now(ZoneInfo("Europe/London")).date()
