"""Exports of many invented layouts, written from readings that are known: the truth that a draft is compared with."""

import csv
import io
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path

from hypothesis import strategies as st

from gateway.drafting import Draft, Words, propose
from gateway.mapping.parse import parse
from gateway.mapping.site import SiteDefaults
from gateway.mapping.source import SourceMap
from gateway.model import Hold, Recording
from gateway.read import read

WORDS_FILE = Path(__file__).parents[3] / "gateway" / "drafting" / "words.toml"
WORDS = parse(WORDS_FILE.read_bytes(), Words, WORDS_FILE.name)
SITE = SiteDefaults(zone="UTC", identifier_system="https://fhir.nhs.uk/Id/nhs-number")

HEADERS = {  # date, time, both in one, systolic, diastolic, heart rate, status: trade words, common practice
    "en": ("Date", "Time", "Date/Time", "Systolic", "Diastolic", "Heart rate", "Status"),
    "de": ("Datum", "Uhrzeit", "Zeitpunkt", "Systolisch", "Diastolisch", "Puls", "Fehler"),
    "fr": ("Date", "Heure", "Date et heure", "PAS", "PAD", "Fréquence cardiaque", "État"),
    "es": ("Fecha", "Hora", "Fecha y hora", "Sistólica", "Diastólica", "Frecuencia cardíaca", "Estado"),
    "it": ("Data", "Ora", "Data e ora", "Pressione sistolica", "Pressione diastolica", "Polso", "Esito"),
    "nl": ("Datum", "Tijd", "Tijdstip", "Bovendruk", "Onderdruk", "Hartslag", "Resultaat"),
    "pl": ("Data", "Godzina", "Data i godzina", "Ciśnienie skurczowe", "Ciśnienie rozkurczowe", "Tętno", "Wynik"),
    "sv": ("Datum", "Klockslag", "Tidpunkt", "Övertryck", "Undertryck", "Hjärtfrekvens", "Resultat"),
}
DATES: dict[str, Callable[[datetime], str]] = {
    "DD.MM.YYYY": lambda t: f"{t:%d.%m.%Y}",
    "DD/MM/YYYY": lambda t: f"{t:%d/%m/%Y}",
    "MM/DD/YYYY": lambda t: f"{t:%m/%d/%Y}",
    "D/M/YYYY": lambda t: f"{t.day}/{t.month}/{t.year}",
    "M/D/YYYY": lambda t: f"{t.month}/{t.day}/{t.year}",
    "YYYY-MM-DD": lambda t: f"{t:%Y-%m-%d}",
    "YYYY/MM/DD": lambda t: f"{t:%Y/%m/%d}",
    "DD-MM-YY": lambda t: f"{t:%d-%m-%y}",
    "MM/DD/YY": lambda t: f"{t:%m/%d/%y}",
    "YY-MM-DD": lambda t: f"{t:%y-%m-%d}",
    "DDMMYYYY": lambda t: f"{t:%d%m%Y}",
}
CLOCKS: dict[str, Callable[[datetime], str]] = {
    "hh:mm": lambda t: f"{t:%H:%M}",
    "h:mm": lambda t: f"{t.hour}:{t:%M}",
    "hh.mm": lambda t: f"{t:%H.%M}",
    "hh:mm:ss": lambda t: f"{t:%H:%M:%S}",
    "h:mm ap": lambda t: f"{int(f'{t:%I}')}:{t:%M} {t:%p}",
    "twelve hours, half of the day not said": lambda t: f"{t:%I:%M}",
}


SHOWN = "shown"
"""failed, and yet numbers stand there"""


@dataclass(frozen=True, slots=True)
class Truth:
    """One attempt as it was; values None where nothing was measured. Values in tenths of mmHg."""

    at: datetime
    systolic: int | None
    diastolic: int | None
    heart_rate: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """One way to write an export."""

    language: str = "en"
    delimiter: str = ";"
    decimal: str = ""
    unit: str = "mmHg"
    unit_said: bool = True
    date: str = "DD.MM.YYYY"
    clock: str = "hh:mm"
    place: str = "two"
    status: bool = True
    good: str = "ok"
    failed: tuple[str, str] = ("E4", "")
    encoding: str = "utf-8"
    footer: bool = False
    facts: bool = True
    order: tuple[int, ...] = field(default=(0, 1, 2, 3, 4))


def local(*parts: int) -> datetime:
    """A wall-clock time, as a monitor writes it."""
    return datetime(*parts)  # type: ignore[arg-type]  # noqa: DTZ001


def layouts() -> st.SearchStrategy[Layout]:
    return st.builds(
        Layout,
        language=st.sampled_from(sorted(HEADERS)),
        delimiter=st.sampled_from([",", ";", "\t", "|"]),
        decimal=st.sampled_from(["", ".", ","]),
        unit=st.sampled_from(["mmHg", "kPa"]),
        unit_said=st.booleans(),
        date=st.sampled_from(sorted(DATES)),
        clock=st.sampled_from(sorted(CLOCKS)),
        place=st.sampled_from(["one", "two", "clock only"]),
        status=st.booleans(),
        good=st.sampled_from(["ok", "", "0", "X7"]),
        failed=st.sampled_from(
            [
                ("E4", ""),
                ("moved", "0"),
                ("3", "255"),
                ("Err", "---"),
                ("x", "888"),
                ("", "LOW"),
                *[("E4", SHOWN)] * 3,
            ]
        ),
        encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "windows-1250", "windows-1252"]),
        footer=st.booleans(),
        facts=st.booleans(),
        order=st.permutations(range(5)).map(tuple),
    )


def recordings() -> st.SearchStrategy[list[Truth]]:
    """From a single afternoon to two days, at any date, with some attempts that failed."""
    start = st.datetimes(local(2019, 1, 1), local(2026, 10, 1)).map(lambda t: t.replace(second=0, microsecond=0))
    failures = st.sets(st.integers(0, 15), max_size=5)
    return st.builds(_recording, start, st.integers(4, 60), st.sampled_from([5, 20, 30, 47]), failures, st.integers())


def _recording(start: datetime, count: int, step: int, failures: set[int], seed: int) -> list[Truth]:
    found = []
    for number in range(count):
        at = start + timedelta(minutes=step * number)
        upper, lower = 100 + (seed + 13 * number) % 60, 60 + (seed + 7 * number) % 30
        good = number not in failures
        found.append(Truth(at, *((10 * upper, 10 * lower, 10 * (60 + number % 30)) if good else (None, None, None))))
    return found


def in_unit(tenths: int, layout: Layout) -> tuple[str, int]:
    """The cell, and the tenths of mmHg that it stands for (1 kPa = 7.50062 mmHg: NIST SP 811, appendix B.8)."""
    if layout.unit == "mmHg":
        whole = tenths // 10
        return (f"{whole}{layout.decimal}0" if layout.decimal else str(whole)), tenths
    kpa = (Decimal(tenths) / 10 * Decimal("0.1333224")).quantize(Decimal("0.1"))
    mmhg = int((kpa * Decimal("7.5006168")).quantize(Decimal(1)))
    return str(kpa).replace(".", layout.decimal or "."), 10 * mmhg


def written(truth: list[Truth], layout: Layout) -> tuple[bytes, list[Truth]]:
    """The export, and the truth as far as its cells tell it."""
    day, clock, both, upper, lower, rate, status = HEADERS[layout.language]
    said = f" ({layout.unit})" if layout.unit_said else ""
    times = {"one": [both], "two": [day, clock], "clock only": [clock]}[layout.place]
    groups = [times, [upper + said], [lower + said], [rate], [status] if layout.status else []]
    rows: list[list[str]] = [["Id", "9990000018"]] if layout.facts else []
    if layout.place == "clock only":
        rows.append([day, DATES[layout.date](truth[0].at)])
    rows.append([cell for at in layout.order for cell in groups[at]])
    known = []
    for each in truth:
        cells, told = _row(each, layout)
        rows.append([cell for at in layout.order for cell in cells[at]])
        known.append(told)
    if layout.footer:
        rows.append(["--- end ---", str(len(truth))])
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=layout.delimiter).writerows(rows)
    return out.getvalue().encode(layout.encoding, errors="replace"), known


def _row(each: Truth, layout: Layout) -> tuple[list[list[str]], Truth]:
    day, clock = DATES[layout.date](each.at), CLOCKS[layout.clock](each.at)
    times = {"one": [f"{day} {clock}"], "two": [day, clock], "clock only": [clock]}[layout.place]
    if each.systolic is None or each.diastolic is None:
        word, mark = layout.failed
        marks = [mark] * 3
        if mark == SHOWN:  # a status beside numbers that must not be used; without a status nobody could know
            marks = ["188", "99", "77"] if layout.status and layout.unit == "mmHg" else ["", "", ""]
        return [times, *([each] for each in marks), [word] if layout.status else []], each
    upper, above = in_unit(each.systolic, layout)
    lower, below = in_unit(each.diastolic, layout)
    rate = str((each.heart_rate or 0) // 10)
    cells = [times, [upper], [lower], [rate], [layout.good] if layout.status else []]
    return cells, Truth(each.at, above, below, each.heart_rate)


def tried(draft: Draft, content: bytes) -> Recording | Hold:
    """What `mapping try` reads by a draft."""
    source = parse(draft.text.encode(), SourceMap, "draft")
    assert source.draft
    return read(content, "export", [source.model_copy(update={"draft": False})], SITE)


def a_draft(content: bytes, now: datetime) -> Draft:
    found = propose(content, WORDS, now)
    assert isinstance(found, Draft), found
    return found


def as_json(text: str, layout: Layout) -> bytes:
    """The same cells, facts and readings each under the word of its header."""
    facts, header, rows = _cells(text, layout)
    names = [name.replace("/", " ") for name in header]
    found = {"about": dict(facts), "list": [dict(zip(names, row, strict=False)) for row in rows]}
    return json.dumps(found, ensure_ascii=False).encode()


def as_columns(text: str, layout: Layout) -> bytes:
    """The same cells in columns that are two places wider than what stands in them."""
    facts, header, rows = _cells(text, layout)
    widths = [max(len(row[at]) if at < len(row) else 0 for row in (header, *rows)) + 2 for at in range(len(header))]
    lines = [f"{name}: {value}" for name, value in facts]
    lines += ["".join(f"{cell:<{wide}}" for cell, wide in zip(row, widths, strict=False)) for row in (header, *rows)]
    return ("\n".join(lines) + "\n").encode()


def _cells(text: str, layout: Layout) -> tuple[list[tuple[str, str]], list[str], list[list[str]]]:
    """Facts, header and rows; a footer is left away, as these forms have none."""
    every = list(csv.reader(io.StringIO(text, newline=""), delimiter=layout.delimiter))
    above = (1 if layout.facts else 0) + (1 if layout.place == "clock only" else 0)
    rows = every[above + 1 :]
    facts = [(row[0], row[1]) for row in every[:above]]
    return facts, every[above], rows[:-1] if layout.footer else rows
