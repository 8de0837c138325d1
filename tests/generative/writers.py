"""Writers for every form of export, independent of the reader: Recording -> bytes."""

import csv
import io
import json
import re
from datetime import datetime
from enum import StrEnum
from xml.etree.ElementTree import Element, SubElement, tostring

from gateway.model import Kind, Outcome, Reading, Recording, Tenths
from tests.unit.read import books


def plain(recording: Recording) -> bytes:
    """The neutral layout with an offset in no cell."""
    facts, header, rows = _neutral(recording)
    return _table([*facts, *_entries(recording, "diary"), (), header, *rows], ",").encode()


def tables(recording: Recording) -> bytes:
    """The neutral layout with the diary as a table of its own above, and half of the facts at the end."""
    facts, header, rows = _neutral(recording)
    diary = [("when", "about", "said"), *(entry[1:] for entry in _entries(recording, ""))]
    half = len(facts) // 2
    return _table([*facts[:half], (), *diary, (), header, *rows, ("once more",), *facts[half:]], ",").encode()


def fixed(recording: Recording) -> bytes:
    """The neutral layout in columns of 18 signs, the diary as a table below; facts are `name=value`."""
    facts, header, rows = _neutral(recording)
    diary = [("when", "about", "said"), *(entry[1:] for entry in _entries(recording, ""))]
    lines = [f"{name}={value}" for name, value in facts]
    lines += ["".join(f"{cell!s:<18}" for cell in row).rstrip() for row in [(), header, *rows, (), *diary]]
    return ("\r\n".join(lines) + "\r\n").encode()


def _entries(recording: Recording, name: str) -> list[tuple[object, ...]]:
    return [(name, _iso(note.at), note.kind, note.text) for note in recording.diary.notes]


def xlsx(recording: Recording) -> bytes:
    """The neutral layout as a sheet: true numbers, true dates and times, everything else text."""
    facts, header, rows = _neutral(recording)
    entries = _entries(recording, "diary")
    return books.xlsx([[_typed(cell) for cell in row] for row in (*facts, *entries, (), header, *rows)])


def ods(recording: Recording) -> bytes:
    """The same as an OpenDocument sheet."""
    facts, header, rows = _neutral(recording)
    entries = _entries(recording, "diary")
    return books.ods([[_typed(cell) for cell in row] for row in (*facts, *entries, (), header, *rows)])


def xml(recording: Recording) -> bytes:
    """The neutral facts as elements, each attempt as an element of attributes; blank ones are left away."""
    facts, header, rows = _neutral(recording)
    root = Element("all")
    for name, value in facts:
        SubElement(root, str(name)).text = str(value)
    for _, at, kind, text in _entries(recording, ""):
        SubElement(root, "entry", at=str(at), kind=str(kind)).text = str(text)
    for row in rows:
        filled = zip(header, map(str, row), strict=True)
        SubElement(SubElement(root, "rows"), "row", {name: text for name, text in filled if text})
    return tostring(root, "utf-8", xml_declaration=True)


def jsonfile(recording: Recording) -> bytes:
    """The neutral facts and attempts as JSON, numbers as numbers."""
    facts, header, rows = _neutral(recording)
    spans = [name for name in ("asleep_from", "asleep_to") if any(fact == name for fact, _ in facts)]
    single = {str(name): _plain(value) for name, value in facts if name not in spans}
    several = {name: [value for fact, value in facts if fact == name] for name in spans}
    found = [{name: _plain(cell) for name, cell in zip(header, row, strict=True)} for row in rows]
    entries = [{"at": at, "kind": kind, "said": text} for _, at, kind, text in _entries(recording, "")]
    return json.dumps({"facts": {**single, **several, "entry": entries}, "rows": found}).encode()


def _plain(cell: object) -> object:
    if isinstance(cell, str) and re.fullmatch(r"\d+\.\d", cell):
        return float(cell)
    return cell if isinstance(cell, int | float) else str(cell) if cell != "" else None


def hl7(recording: Recording) -> bytes:
    """One group for each attempt, instants with their offset; what ORU^R01 has no field for is left away."""
    person = recording.person
    assert person.identifier is not None
    sex = {None: "", "female": "F", "male": "M", "other": "O", "unknown": "U"}[person.sex]
    name = "^".join(_escaped(part) for part in (person.family_name, person.given_name))
    born = f"{person.birth_date:%Y%m%d}" if person.birth_date else ""
    number = f"{person.identifier.value}^^^EX^NH"
    lines = ["MSH|^~\\&|A|B|||20260303||ORU^R01|1|P|2.5.1", f"PID|1||{number}||{name}||{born}|{sex}"]
    for at, each in enumerate(recording.readings, 1):
        lines.append(f"OBR|{at}|{_escaped(recording.circumstances.order)}||X|||{each.at:%Y%m%d%H%M%S%z}")
        status = "F" if each.outcome is Outcome.MEASURED else "X"
        values = (each.systolic, each.diastolic, each.mean, each.heart_rate)
        units = ("mm[Hg]", "mm[Hg]", "mm[Hg]", "/min")
        for code, value, unit in zip(("8480-6", "8462-4", "8478-0", "8867-4"), values, units, strict=True):
            lines.append(f"OBX||NM|{code}^x^LN||{_number(value, '.')}|{unit}|||||{status}")
    return "\r".join(lines).encode()


def fhir(recording: Recording) -> bytes:
    """One panel for each attempt, the heart rate in an Observation of its own."""
    person = recording.person
    assert person.identifier is not None
    patient = {
        "resourceType": "Patient",
        "identifier": [{"system": person.identifier.system, "value": person.identifier.value}],
        "name": [{"family": person.family_name or "", "given": [person.given_name or ""]}],
        "birthDate": person.birth_date.isoformat() if person.birth_date else "",
        "gender": person.sex or "",
    }
    entries: list[object] = [{"fullUrl": "urn:example:p", "resource": patient}]
    for each in recording.readings:
        common = {
            "resourceType": "Observation",
            "status": "final",
            "subject": {"reference": "urn:example:p"},
            "effectiveDateTime": each.at.isoformat(timespec="seconds"),
        }
        values = (("8480-6", each.systolic), ("8462-4", each.diastolic), ("8478-0", each.mean))
        panel = {**common, "component": [_component(code, value, "mm[Hg]") for code, value in values]}
        rate = {**common, **_component("8867-4", each.heart_rate, "/min")}
        entries += [{"resource": rate}, {"resource": panel}]
    return json.dumps({"resourceType": "Bundle", "entry": entries}).encode()


def _component(code: str, value: Tenths | None, unit: str) -> dict[str, object]:
    coded = {"code": {"coding": [{"system": "http://loinc.org", "code": code}]}}
    if value is None:
        return {**coded, "dataAbsentReason": {"coding": [{"code": "error"}]}}
    return {**coded, "valueQuantity": {"value": value / 10, "code": unit}}


def _escaped(text: str | None) -> str:
    marks = {"\\": "\\E\\", "|": "\\F\\", "^": "\\S\\", "&": "\\T\\", "~": "\\R\\"}
    return "".join(marks.get(sign, sign) for sign in text or "")


def _typed(cell: object) -> object:
    """What a spreadsheet makes of such a cell when a person types it in."""
    if not isinstance(cell, str):
        return str(cell) if isinstance(cell, StrEnum) else cell
    if re.fullmatch(r"\d+\.\d", cell):
        return float(cell)
    if re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d", cell):
        return datetime.fromisoformat(cell)
    return cell


def _neutral(recording: Recording) -> tuple[list[tuple[object, ...]], tuple[str, ...], list[tuple[object, ...]]]:
    """Facts, header and rows of the neutral layout."""
    person, monitor, schedule, around = (
        recording.person,
        recording.monitor,
        recording.schedule,
        recording.circumstances,
    )
    assert person.identifier is not None
    facts: list[tuple[str, object]] = [
        ("timezone", recording.zone),
        ("identifier", person.identifier.value),
        ("identifier_system", person.identifier.system),
        ("family_name", person.family_name),
        ("given_name", person.given_name),
        ("birth_date", person.birth_date),
        ("sex", person.sex),
        ("site", recording.site),
        ("monitor_model", monitor.model),
        ("monitor_serial", monitor.serial),
        ("cuff_size", monitor.cuff_size),
        ("arm_circumference_cm", monitor.arm_circumference),
        ("arm", monitor.arm),
        ("order", around.order),
        ("indication", around.indication),
        ("treated", _word(around.treated, "yes", "no")),
        ("pregnancy_weeks", around.pregnancy_weeks),
        ("irregular_pulse", _word(around.irregular_pulse, "yes", "no")),
        ("planned_hours", schedule.planned),
        ("interval_minutes_day", schedule.interval_day),
        ("interval_minutes_night", schedule.interval_night),
        ("schedule_day_from", schedule.day_from),
        ("schedule_night_from", schedule.night_from),
        ("fitted_at", _iso(schedule.fitted_at)),
        ("removed_at", _iso(schedule.removed_at)),
        ("clinic_systolic", _number(around.clinic_systolic, ".")),
        ("clinic_diastolic", _number(around.clinic_diastolic, ".")),
    ]
    for span in recording.diary.asleep:
        facts += [("asleep_from", _iso(span.start)), ("asleep_to", _iso(span.end))]
    header = ("time", "systolic", "diastolic", "mean", "heart_rate", "outcome", "kind", "irregular", "note")
    rows = [_plain_row(each) for each in recording.readings]
    return [(name, "" if value is None else value) for name, value in facts], header, rows


def _plain_row(each: Reading) -> tuple[object, ...]:
    values = [_number(v, ".") for v in (each.systolic, each.diastolic, each.mean, each.heart_rate)]
    outcome = "measured" if each.outcome is Outcome.MEASURED else each.failure
    return (_iso(each.at), *values, outcome, each.kind, _word(each.irregular, "yes", "no"), each.note or "")


def fenmarch(recording: Recording) -> bytes:
    """The day sheet: no zone in the file, so the reader needs the recording's zone as that of the site."""
    person, monitor, schedule, around = (
        recording.person,
        recording.monitor,
        recording.schedule,
        recording.circumstances,
    )
    assert person.identifier is not None
    rows: list[tuple[object, ...]] = [
        ("Day sheet", "Fenmarch 2"),
        ("Put on", *_day_and_clock(schedule.fitted_at)),
        ("Taken off", *_day_and_clock(schedule.removed_at)),
        ("Band", monitor.model or "", monitor.serial or ""),
        ("Band width", monitor.cuff_size or ""),
        (
            "Round the arm",
            "" if monitor.arm_circumference is None else f"{monitor.arm_circumference:.1f}".replace(".", ","),
        ),
        ("Side", f"{monitor.arm} side" if monitor.arm else ""),
        ("Every", _blank(schedule.interval_day), _blank(schedule.interval_night)),
        ("Changes at", *(f"{t:%H:%M}" if t else "" for t in (schedule.day_from, schedule.night_from))),
        ("Hours meant", _blank(schedule.planned)),
        ("Worn for", recording.site or ""),
        ("Wearer", person.family_name or "", person.given_name or ""),
        ("Wearer number", person.identifier.value, person.identifier.system),
        ("Born on", f"{person.birth_date:%d/%m/%Y}" if person.birth_date else ""),
        (
            "Woman or man",
            {None: "", "female": "woman", "male": "man", "other": "other", "unknown": "unsaid"}[person.sex],
        ),
        ("Asked for in", around.order or ""),
        ("Why", around.indication or ""),
        ("Takes tablets", _word(around.treated, "does", "does not")),
        ("Weeks with child", _blank(around.pregnancy_weeks)),
        ("Uneven pulse", _word(around.irregular_pulse, "found", "not found")),
        ("At the desk", _number(around.clinic_systolic, ","), _number(around.clinic_diastolic, ",")),
    ]
    for span in recording.diary.asleep:
        rows += [("Lights out", *_day_and_clock(span.start)), ("Up again", *_day_and_clock(span.end))]
    about = {"medication": "tablets", "posture": "stood", "symptom": "felt", "text": "else"}
    rows += [("Wrote", *_day_and_clock(note.at), about[note.kind], note.text) for note in recording.diary.notes]
    rows += [(), ("Upper", "Lower", "Middle", "Beats", "Day", "Clock", "Went", "Begun by", "Pulse", "Remark")]
    rows += [_fenmarch_row(each) for each in recording.readings]
    return _table([*rows, ("End of sheet", len(recording.readings))], ";").encode("utf-8-sig")


def _fenmarch_row(each: Reading) -> tuple[object, ...]:
    values = [_number(v, ",") for v in (each.systolic, each.diastolic, each.mean, each.heart_rate)]
    begun = {Kind.SCHEDULED: "plan", Kind.REPEAT: "again", Kind.MANUAL: "hand", Kind.FITTING: "nurse"}
    went = "well" if each.outcome is Outcome.MEASURED else each.failure
    pulse = _word(each.irregular, "uneven", "even")
    return (*values, *_day_and_clock(each.at), went, begun[each.kind], pulse, each.note or "")


def _table(rows: list[tuple[object, ...]], delimiter: str) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, quoting=csv.QUOTE_MINIMAL).writerows(rows)
    return out.getvalue()


def _number(value: Tenths | None, mark: str) -> str:
    return "" if value is None else f"{value // 10}{mark}{value % 10}"


def _word(value: bool | None, yes: str, no: str) -> str:
    return "" if value is None else yes if value else no


def _blank(value: object) -> object:
    return "" if value is None else value


def _iso(moment: datetime | None) -> str:
    return "" if moment is None else f"{moment:%Y-%m-%dT%H:%M}"


def _day_and_clock(moment: datetime | None) -> tuple[str, str]:
    return ("", "") if moment is None else (f"{moment:%d/%m/%Y}", f"{moment:%H:%M}")
