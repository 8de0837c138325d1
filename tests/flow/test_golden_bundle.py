"""The bytes of a standard recording, one resource a line. A change here changes what records hold.

Write them anew, after reading the difference: `python -m tests.flow.test_golden_bundle`
"""

from pathlib import Path

from gateway.fhir import check, parsed, written
from tests.builders import a_recording, readings_over
from tests.unit.fhir.building import all_codes, composed

GOLDEN = Path(__file__).parent / "golden" / "standard.ndjson"


def made() -> bytes:
    hourly = a_recording(readings_over(every=lambda moment: 60))
    return b"".join(written(item.body) + b"\n" for item in composed(hourly))


def test_the_bytes_are_the_golden_bytes():
    assert made() == GOLDEN.read_bytes()


def test_the_golden_bytes_are_stable_when_read_and_written_again():
    for line in GOLDEN.read_bytes().splitlines():
        assert written(parsed(line)) == line


def test_the_golden_recording_passes():
    assert check(composed(a_recording(readings_over(every=lambda moment: 60))), all_codes()) == ()


if __name__ == "__main__":
    GOLDEN.write_bytes(made())
