"""All faults of a file at once: what `read` stops at first is here one of several."""

import pytest

from gateway.mapping.source import SourceMap
from gateway.model import Hold
from gateway.read import Trial, read, trial
from tests.unit.read.layouts import SITE, a_file, a_map
from tests.unit.read.told import SAMPLES, shipped

GOOD = ("2026-03-03 09:20;131;82;70", "2026-03-03 09:40;129;80;71")


def tried(content: bytes, source: SourceMap | None = None, name: str = "x.csv") -> Trial:
    return trial(content, name, source or a_map(), SITE)


def doubts_of_rows(found: Trial) -> dict[int, tuple[str, ...]]:
    return {each.row: each.doubts for each in found.rows if each.doubts}


def test_a_good_file_has_rows_and_no_doubt() -> None:
    found = tried(a_file(*GOOD))
    assert found.doubts == ()
    assert [each.use for each in found.rows] == ["attempt", "attempt"]
    assert found.rows[0].cells == (
        ("time", "2026-03-03 09:20"),
        ("systolic", "131"),
        ("diastolic", "82"),
        ("heart_rate", "70"),
    )


def test_every_row_with_a_fault_is_named_and_every_fault_of_a_row() -> None:
    content = a_file(GOOD[0], "03/03/2026 10:00;x;82;70", "2026-03-03 24:20;131;82;70", "2026-03-03 11:00;y;z;")
    assert isinstance(read(content, "x.csv", [a_map()], SITE), Hold)
    said = doubts_of_rows(tried(content))
    assert list(said) == [5, 6, 7]
    assert len(said[5]) == 2  # its time and its pressure
    assert said[6] == ("no clock shows such a time",)
    assert said[7] == ("a value is neither a number nor a known mark",)
    assert [each.use for each in tried(content).rows] == ["attempt"] * 4


def test_a_row_that_is_blank_in_every_column_of_the_map_is_not_used() -> None:
    found = tried(a_file(*GOOD, ";;;;box opened", header="taken;upper;lower;beats;other"))
    assert [each.use for each in found.rows] == ["attempt", "attempt", "not used"]
    assert found.rows[-1].doubts == ()


def test_faults_of_the_file_stand_beside_those_of_its_rows() -> None:
    content = a_file(*GOOD, "2026-03-03 10:00;x;82;70", facts="number;1.2E9\nzone;Nowhere/Else\n\n")
    found = tried(content)
    assert any("person.identifier" in each for each in found.doubts)
    assert any("zone" in each for each in found.doubts)
    assert list(doubts_of_rows(found)) == [7]


def test_a_fault_of_all_rows_is_said_once() -> None:
    time = {"how": "time-only", "time": {"column": "taken", "pattern": "hh:mm"}}
    source = a_map(readings={"time": {**time, "starts_on": {"fact": "day", "pattern": "DD/MM/YYYY"}}})
    found = tried(a_file("09:20;131;82;70", "09:40;129;80;71"), source)
    assert doubts_of_rows(found) == {}
    assert any("the date of the first reading is missing" in each for each in found.doubts)


def test_signs_that_are_not_there_are_named() -> None:
    found = tried(a_file(*GOOD), a_map(signs={"columns": ["taken", "upper", "deeper"]}))
    assert found.rows == ()
    assert any("deeper" in each for each in found.doubts)
    named = tried(a_file(*GOOD), a_map(signs={"name": "ward*", "columns": ["taken"]}))
    assert "signs.name: the file name does not fit 'ward*'" in named.doubts
    assert len(named.rows) == 2


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b"PK\x03\x04", b"<a", b"{", b"MSH|", b"\x00" * 50])
def test_what_is_no_export_at_all_is_a_doubt_and_no_crash(content: bytes) -> None:
    for source in shipped():
        found = trial(content, "x", source, SITE)
        assert found.rows == ()
        assert found.doubts


def test_each_sample_is_tried_as_it_is_read() -> None:
    for sample in (each for each in sorted(SAMPLES.iterdir()) if each.suffix != ".json"):
        (source,) = (each for each in shipped() if each.name == sample.stem.partition("-layout")[0])
        found = trial(sample.read_bytes(), sample.name, source, SITE)
        assert doubts_of_rows(found) == {}, sample.name
        assert found.rows, sample.name
