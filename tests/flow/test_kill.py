"""The service is killed without warning at ten different moments of its work; nothing is lost, nothing is doubled."""

from collections import Counter
from datetime import date
from pathlib import Path

import pytest
from scenario import people
from scenario.exports import exports
from scenario.record import RecordServer

from tests.flow.day import a_day, entries, wait_until

MOMENTS = (1, 3, 6, 10, 15, 21, 28, 36, 45, 55)
"""Numbers of audit entries after which the service is killed; about 90 are written in all."""


@pytest.mark.service
def test_ten_kills_lose_nothing_and_double_nothing(record: RecordServer, tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", record.base, most_entries=20)
    ends = list(exports(today))
    for export in ends:
        day.drop(export.name, export.content)

    for moment in MOMENTS:
        with day.service() as process:
            wait_until(lambda moment=moment: entries(day.store) >= moment, process)
            process.kill()
            process.wait()
    files = len({export.content for export in ends})
    with day.service() as process:
        wait_until(lambda: _settled(day.counts()) == files, process)

    for who in (export.who for export in ends if export.ends == "delivered"):
        assert who is not None
        (patient,) = record.search("Patient", identifier=f"{people.NHS}|{who.number}")
        resources = [
            resource
            for kind in ("Observation", "DiagnosticReport")
            for resource in record.search(kind, subject=f"Patient/{patient['id']}")
        ]
        own = Counter(resource["identifier"][0]["value"] for resource in resources)
        assert resources, "a recording is lost"
        assert max(own.values()) == 1, "a resource is doubled"
        # counts alone would not see that something was written again over itself
        assert all(record.versions(each["resourceType"], each["id"]) == 1 for each in resources[::7])
    assert day.command("audit", "verify").returncode == 0
    assert not list((day.place / "inbox").iterdir())


def _settled(counts: dict[str, int]) -> int:
    return counts.get("delivered", 0) + counts.get("held", 0)
