"""Peak memory and time of files that are too much, printed; measured by the process itself in a fresh interpreter."""

import subprocess
import sys

import pytest

from tests.unit.read.told import ROOT

LARGE = """
import resource, time
from pathlib import Path
from gateway.mapping.site import SiteDefaults
from gateway.read import read
from tests.unit.read.told import shipped
{make}
maps, site = shipped(), SiteDefaults(zone="Europe/London", identifier_system="urn:a", most_bytes={most})
began = time.perf_counter()
found = read(content, {name!r}, maps, site)
took = time.perf_counter() - began
own = Path("/proc/self/status")  # getrusage keeps what the process that started this one had, where it is Linux
lines = own.read_text().splitlines() if own.exists() else []
high = [int(line.split()[1]) for line in lines if line.startswith("VmHWM:")]
peak = (high[0] if high else resource.getrusage(resource.RUSAGE_SELF).ru_maxrss) // 1024
print(found.reason.value, len(content), round(took, 2), peak)
"""
ROWS = """
head = b"identifier,A0042\\n\\ntime,systolic,diastolic\\n"
content = head + b"2026-03-03T09:20,131,82\\n" * (50_000_000 // 24)
"""
SHEET = """
from tests.unit.read.books import with_part, xlsx
row = b'<row r="%d"><c r="XFD%d">VALUE</c></row>'
rows = b"".join(row % (at, at) for at in range(4, 100_000))
head = [("Register of", "x"), ("Patient no", "A42"), ("Date", "Hour", "High kPa", "Low kPa")]
book = xlsx(head, lambda made: setattr(made.active, "title", "Readings"))
end = b"</sheetData>"
content = with_part(book, "xl/worksheets/sheet1.xml", lambda part: part.replace(end, rows + end))
"""
BLANK, FILLED = SHEET.replace("VALUE", ""), SHEET.replace("VALUE", "<v>1</v>")


@pytest.mark.parametrize(
    ("kind", "make", "name", "most", "reason"),
    [
        ("delimited file of 50 MB, limit of the site raised", ROWS, "a.csv", 60_000_000, "file-too-large"),
        ("delimited file of 50 MB", ROWS, "a.csv", 16 * 1024 * 1024, "file-too-large"),
        ("workbook with 100,000 blank rows of full width", BLANK, "a.xlsx", 16 * 1024 * 1024, "file-too-large"),
        ("workbook with 100,000 rows of full width", FILLED, "a.xlsx", 16 * 1024 * 1024, "file-unreadable"),
    ],
)
def test_a_file_that_is_too_much_is_refused_in_time_and_memory(kind, make, name, most, reason) -> None:
    program = LARGE.format(make=make, name=name, most=most)
    done = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True)
    said, size, took, peak = done.stdout.split()
    print(f"{kind}: {size} bytes, held as {said} after {took} s, peak {peak} MB")
    assert said == reason
    assert float(took) < 5
    assert int(peak) < 500
