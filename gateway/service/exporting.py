"""One row per recording into a file, and who asked for it into the audit log."""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from hashlib import sha256
from pathlib import Path
from zoneinfo import ZoneInfo

from gateway import cohort
from gateway.model import Event, EventKind
from gateway.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """`since`: recordings that ended on this local date or later. `by`: who asked, "" where nobody need be named."""

    since: date
    zone: str
    identifiers: bool = False
    by: str = ""


def written(store: Store, wanted: Wanted, to: Path, now: datetime) -> int | None:
    """Write the table and tell the number of its rows; None when the file is there already or cannot be made.

    Only the owner may read the file. The empty file is made first, then the log is told, then the rows are written:
    no row leaves without a link of the audit log.
    """
    rows = list(_rows(store, wanted))
    form = cohort.parquet if to.suffix.lower() == ".parquet" else cohort.csv
    content = form(rows, wanted.identifiers)
    try:
        handle = os.open(to, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError:
        return None
    with os.fdopen(handle, "wb") as out:
        store.record(_event(wanted, len(rows), sha256(content).hexdigest(), now))
        out.write(content)
    return len(rows)


def _event(wanted: Wanted, count: int, digest: str, now: datetime) -> Event:
    detail: dict[str, object] = {
        "since": wanted.since.isoformat(),
        "count": count,
        "identifiers": wanted.identifiers,
        "sha256": digest,
    }
    return Event(kind=EventKind.EXPORTED, at=now, actor=wanted.by or "command", detail=detail)


def _rows(store: Store, wanted: Wanted) -> Iterator[dict[str, cohort.Cell]]:
    start = datetime.combine(wanted.since, time(), ZoneInfo(wanted.zone))
    for result in store.results_since(start):
        row = cohort.row(
            result.facts,
            person=cohort.pseudonym(store.key, "person", result.person_key),
            recording=cohort.pseudonym(store.key, "recording", result.recording_id),
            delivered=result.delivered,
        )
        if row is not None:
            yield {**row, "recording": result.recording_id}
