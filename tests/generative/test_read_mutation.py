"""Mutated copies of the sample exports: never an exception, always a Recording or a Hold, never an invented reading.

`READ_MUTATIONS` sets how many of each export (300 unless told; of workbooks, which take ten times as long, a third of
what goes beyond); the longest time that one took and the memory by which the process grew are printed and bounded.
"Invented" means a pressure that no number of the mutated file can give, an instant outside what its digits can say,
or more attempts than the file has rows.
"""

import io
import os
import random
import re
import resource
import time
import unicodedata
import zipfile
from collections.abc import Callable
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal

import pytest
from openpyxl import load_workbook

from gateway.mapping.site import SiteDefaults
from gateway.mapping.source import SourceMap
from gateway.model import Hold, Recording
from gateway.read import read
from tests.unit.read import books
from tests.unit.read.told import SAMPLES, shipped

COUNT = int(os.environ.get("READ_MUTATIONS", "300"))
SITE = SiteDefaults(zone="Europe/London", identifier_system="https://example.org/site-number")
SLOWEST, MOST_MEGABYTES = 5.0, 500
"""seconds of the processor for one file, and memory that all files together may add to the process"""
BOOKS = min(COUNT, 300) + max(COUNT - 300, 0) // 3


def open_document(content: bytes) -> bytes:
    """The sheet of readings of a workbook as an OpenDocument sheet."""
    sheet = load_workbook(io.BytesIO(content))["Readings"]
    rows = sheet.iter_rows(max_row=20, values_only=True)  # styled blank rows below would only swell it
    return books.ods([[cell.date() if isinstance(cell, datetime) else cell for cell in row] for row in rows])


def open_document_map(source: SourceMap) -> SourceMap:
    """The same map for the same sheet in the other form."""
    signs = source.signs.model_copy(update={"name": "*.ods"})
    return source.model_copy(
        update={"signs": signs, "format": source.format.model_copy(update={"sheet": 1}), "name": "other-form"}
    )


MAPS = (*shipped(), *(open_document_map(each) for each in shipped() if each.name == "tarnholt"))
EXPORTS = {file.name: file.read_bytes() for file in sorted(SAMPLES.iterdir()) if file.suffix != ".json"}
EXPORTS |= {"tarnholt-layout.ods": open_document(EXPORTS["tarnholt-layout.xlsx"])}
ODD = (
    b"\0",
    b'"',
    b";",
    b",",
    b"\n",
    b"\r",
    b"=",
    b"-",
    b"\xff",
    b"\xfe\xff",
    b"\xef\xbb\xbf",
    b"24:00",
    b"24:20",
    b"E4",
    b"999",
    b"1e9",
    b"NaN",
    b"+01:00",
    b"Z",
    b"\xe2\x80\x8b",
    b"\t",
    b"9" * 500,
    b"2026-02-30",
    b"00",
    b".",
    b"\x1a",
)


def flip(content: bytearray, chance: random.Random) -> bytearray:
    content[chance.randrange(len(content))] = chance.randrange(256)
    return content


def insert(content: bytearray, chance: random.Random) -> bytearray:
    at = chance.randrange(len(content))
    return content[:at] + chance.choice(ODD) + content[at:]


def cut(content: bytearray, chance: random.Random) -> bytearray:
    return content[: chance.randrange(1, len(content) + 1)]


def drop(content: bytearray, chance: random.Random) -> bytearray:
    at = chance.randrange(len(content))
    return content[:at] + content[at + chance.randrange(1, 40) :]


def rows(content: bytearray, chance: random.Random) -> bytearray:
    """Swap, double or remove a row, or put one elsewhere."""
    lines = content.split(b"\n")
    a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
    match chance.randrange(4):
        case 0:
            lines[a], lines[b] = lines[b], lines[a]
        case 1:
            lines.insert(b, lines[a])
        case 2:
            del lines[a]
        case _:
            lines.insert(b, lines.pop(a))
    return bytearray(b"\n".join(lines))


def cells(content: bytearray, chance: random.Random) -> bytearray:
    """Put something odd in the place of one cell."""
    found = list(re.finditer(rb"[^,;\n\r]+", content))
    if not found:
        return content
    hit = chance.choice(found)
    return content[: hit.start()] + chance.choice(ODD) + content[hit.end() :]


def recode(content: bytearray, chance: random.Random) -> bytearray:
    text = content.decode("latin-1")
    return bytearray(text.encode(chance.choice(["utf-16", "utf-16-le", "utf-8", "utf-8-sig", "utf-32"])))


WAYS: tuple[Callable[[bytearray, random.Random], bytearray], ...] = (
    flip,
    insert,
    cut,
    drop,
    rows,
    cells,
    cells,
    recode,
)


def mutated(content: bytes, chance: random.Random) -> bytes:
    changed = bytearray(content)
    for _ in range(chance.choice((1, 1, 1, 2, 5))):
        if changed:
            changed = chance.choice(WAYS)(changed, chance)
    return bytes(changed)


def repacked(content: bytes, chance: random.Random) -> bytes:
    """A workbook with one part changed, packed again so that it can be opened."""
    name = chance.choice(zipfile.ZipFile(io.BytesIO(content)).namelist())
    return books.with_part(content, name, lambda part: mutated(part, chance))


def text_of(recording: Recording, content: bytes) -> str:
    """All text of the file; numbers of a workbook stand in its sheet as they do in a text."""
    if recording.source.encoding == "workbook":
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            sheets = [name for name in archive.namelist() if name.startswith("xl/") or name == "content.xml"]
            return "\n".join(
                archive.read(name).replace(b"\0", b"").decode("utf-8", errors="replace") for name in sheets
            )
    return content.decode(recording.source.encoding)


def numbers_in(recording: Recording, content: bytes) -> set[int]:
    """Every number of the file in tenths, by another way than the reader's."""
    text = "".join(sign for sign in text_of(recording, content) if unicodedata.category(sign) != "Cf")  # not seen
    found = set()
    if any(each.raw[-1] == ("unit", "kPa") for each in recording.readings):
        for number in re.findall(r"\d{1,6}(?:[.,]\d{1,15})?", text):  # 1 mmHg = 133.322 Pa (NIST SP 811, B.8)
            found.add(
                10
                * int(
                    (Decimal(number.replace(",", ".")) / Decimal("0.133322387415")).quantize(
                        Decimal(1), ROUND_HALF_UP
                    )
                )
            )
    for whole, part in re.findall(r"(\d+)(?:\.(\d+))?", text) + re.findall(r"(\d+)(?:,(\d+))?", text):
        if len(whole) <= 6:
            exact = Decimal(f"{whole}.{part or 0}") * 10
            found |= {int(exact.quantize(Decimal(1), rounding=ROUND_HALF_UP)), int(whole) * 10}
        if part and len(part) <= 6:
            found.add(int(part) * 10)
    return found


def peak() -> int:
    """Most memory in megabytes that this process ever had; other tests may have run in it before."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


@pytest.mark.parametrize("name", EXPORTS)
def test_a_mutated_export_is_read_or_held_and_nothing_is_invented(name) -> None:
    original = EXPORTS[name]
    chance = random.Random(f"{name} 1")
    read_, held, slowest, before = 0, 0, 0.0, peak()
    count = BOOKS if original.startswith(b"PK") else COUNT
    for _ in range(count):
        packed = original.startswith(b"PK") and chance.random() < 0.9
        content = repacked(original, chance) if packed else mutated(original, chance)
        began = time.thread_time()
        found = read(content, name, MAPS, SITE)
        slowest = max(slowest, time.thread_time() - began)
        if isinstance(found, Hold):
            held += 1
            assert found.sentence
            assert found.action
            continue
        read_ += 1
        known = numbers_in(found, content)
        assert len(found.readings) <= sum(map(text_of(found, content).count, "\n\r<{")) + 1
        assert [each.row for each in found.readings] == sorted({each.row for each in found.readings})
        for each in found.readings:
            values = {v for v in (each.systolic, each.diastolic, each.mean, each.heart_rate) if v is not None}
            assert values <= known, "a value that stands nowhere in the file"
            assert each.at.utcoffset() is not None
    said = f"{read_} read, {held} held, slowest {slowest:.2f} s, peak {before} MB before and {peak()} MB after"
    print(f"{name}: {count} mutated copies, no crash, {said}")
    assert slowest < SLOWEST
    assert peak() - before < MOST_MEGABYTES
    assert read_ > 0
    assert held > 0


def test_random_bytes_are_held() -> None:
    chance = random.Random(2)
    for _ in range(COUNT):
        assert isinstance(read(chance.randbytes(chance.randrange(0, 400)), "x.csv", MAPS, SITE), Hold)
