"""Faults made on purpose with a marked person; afterwards no log, audit entry, note or error says who it was.

The person's own places (original files, store, outbox, report) may; everything else may not, in any disguise.
"""

import base64
import json
from datetime import date, datetime, time, timedelta
from pathlib import Path
from urllib.parse import quote

import pytest
from scenario import layouts
from scenario.days import LONDON, Shape
from scenario.people import Someone
from scenario.record import RecordServer, free_port

from tests.flow.day import Day, a_day, wait_until

MARKED = Someone("9990000093", "Zztestgiven", "Zztestname", date(1958, 7, 16), "female", registered=False)
QUIET = Shape(awake=(122, 76, 74), asleep=(106, 62, 60))
pytestmark = pytest.mark.service


def disguises() -> list[bytes]:
    """The person's details as they stand, reversed, percent-encoded, in base64, and in the usual date forms."""
    words = [MARKED.family, MARKED.given, MARKED.number]
    dates = [MARKED.born.strftime(form) for form in ("%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y", "%Y%m%d")]
    plain = [*words, *(word.lower() for word in words), *dates]
    return [
        form.encode()
        for word in plain
        for form in (word, word[::-1], quote(f"|{word}"), base64.b64encode(word.encode()).decode().rstrip("="))
    ]


def files(today: date) -> dict[str, bytes]:
    start = datetime.combine(today - timedelta(days=2), time(9, 0), LONDON)
    good = layouts.plain(MARKED, QUIET, start, serial="T-9", seed=9)
    name = MARKED.family
    return {
        f"{name}-good.csv": good,
        f"{name}-digit.csv": good.replace(MARKED.number.encode(), b"9990000094"),
        f"{name}-birth.csv": good.replace(b"1958-07-16", b"16 of July 1958"),
        f"{name}-cut.csv": good[:777],
        f"{name}-code.csv": good.replace(b"sex,female", f"sex,{name}".encode()),
        f"{name}-unknown.txt": f"{name} {MARKED.number}\n{MARKED.born}\n".encode(),
    }


def said_by(day: Day) -> bytes:
    """Everything that the gateway says to anybody but the record: logs, notes, heads, audit, metrics, held list."""
    notes = [path.read_bytes() for path in day.place.rglob("*.why.txt")]
    heads = (day.place / "heads" / "heads.jsonl").read_bytes()
    export = day.place / "audit.jsonl"
    assert day.command("audit", "export", "--to", str(export)).returncode == 0
    held = [{key: item[key] for key in item if key != "file"} for item in day.facts("held", "list")]
    return b"\n".join(
        [(day.place / "service.log").read_bytes(), *notes, heads, export.read_bytes(), json.dumps(held).encode()]
    )


def run_until_settled(day: Day, count: int) -> None:
    def settled() -> bool:
        inbox = list((day.place / "inbox").iterdir())
        return day.store.exists() and not inbox and sum(day.counts().values()) == count

    with day.service() as process:
        wait_until(settled, process)


def test_faults_leak_nobody_when_the_record_does_not_know_them(
    record: RecordServer, tmp_path: Path, today: date
) -> None:
    day = a_day(tmp_path / "day", record.base)
    dropped = files(today)
    for name, content in dropped.items():
        day.drop(name, content)
    run_until_settled(day, len(dropped))
    told = said_by(day)
    assert len(told) > 2000
    assert [form for form in disguises() if form in told] == []


def test_an_unreachable_record_leaks_nobody(tmp_path: Path, today: date) -> None:
    day = a_day(tmp_path / "day", f"http://127.0.0.1:{free_port()}/fhir")
    day.drop("x.csv", files(today)[f"{MARKED.family}-good.csv"])
    run_until_settled(day, 1)
    done = day.command("once")
    told = said_by(day) + done.stdout.encode() + done.stderr.encode()
    assert [form for form in disguises() if form in told] == []
