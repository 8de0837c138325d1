"""From lines of a booking list to entries of the store: every fault is told, and with one nothing is taken."""

import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from gateway import fhir
from gateway.errors import SettingsError
from gateway.model import Identifier
from gateway.settings import Settings
from gateway.store import NewExpected
from gateway.validate import canonical
from gateway.validate.number import possible

COLUMNS = ("monitor", "number", "from", "until")
MOST_LINES = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """One line as somebody wrote it; times without a zone are local to the site. `place` names it in a fault."""

    monitor: str
    number: str
    begins: datetime
    ends: datetime | None
    place: str


def listed(content: bytes) -> list[Listed]:
    """The lines of a CSV file. Raises SettingsError with every fault, by line, without quoting what stands there."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SettingsError(["the list is not UTF-8"]) from None
    rows = csv.DictReader(io.StringIO(text))
    missing = [name for name in COLUMNS[:3] if name not in (rows.fieldnames or ())]
    if missing:
        raise SettingsError([f"the list has no column {', '.join(missing)}; it needs monitor, number and from"])
    found, faults = list[Listed](), list[str]()
    for row in rows:
        place = f"line {rows.line_num}"
        try:
            found.append(_line(row, place))
        except (ValueError, TypeError):
            faults.append(f"{place}: write from and until like 2026-03-04 or 2026-03-04T09:00")
    if len(found) > MOST_LINES:
        faults.append(f"more than {MOST_LINES} lines")
    if faults:
        raise SettingsError(faults)
    return found


def _line(row: dict[str, str], place: str) -> Listed:
    until = (row.get("until") or "").strip()
    return Listed(
        monitor=row["monitor"] or "",
        number=row["number"] or "",
        begins=datetime.fromisoformat(row["from"].strip()),
        ends=datetime.fromisoformat(until) if until else None,
        place=place,
    )


def entries(lines: Iterable[Listed], settings: Settings, key: bytes) -> list[NewExpected]:
    """What goes on the list. Raises SettingsError with every fault."""
    zone, systems = ZoneInfo(settings.site.timezone or "UTC"), settings.identifiers.systems
    system = settings.site.identifier_system or next(iter(systems), "")
    found, faults = list[NewExpected](), list[str]()
    for line in lines:
        person = canonical(Identifier(system, line.number.strip()), systems)
        new = NewExpected(
            serial=line.monitor.strip(),
            person_key=fhir.person_key(key, person),
            person=person.value,
            begins=_instant(line.begins, zone),
            ends=_instant(line.ends, zone) if line.ends else None,
        )
        said = list(_faults(new, person, systems))
        faults += [f"{line.place}: {fault}" if line.place else fault for fault in said]
        found += [] if said else [new]
    if faults:
        raise SettingsError(faults)
    return found


def _faults(new: NewExpected, person: Identifier, systems: dict[str, str]) -> Iterator[str]:
    if not new.serial:
        yield "the monitor is missing"
    if not possible(person, systems):
        yield "form or check digit of the number are wrong"
    if new.ends is not None and new.ends <= new.begins:
        yield "it ends before it begins"


def _instant(moment: datetime, zone: ZoneInfo) -> datetime:
    return (moment if moment.tzinfo else moment.replace(tzinfo=zone)).astimezone(UTC)
