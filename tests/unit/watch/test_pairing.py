"""Which finished file goes with which PDF: names and times in, pairs out."""

import pytest

from gateway.watch.pairing import Paired, pair
from gateway.watch.settling import Seen, finished, put_off
from tests.unit.watch.test_settling import a_mark

QUIET, WAIT = 10.0, 60.0


def seen(**since: float) -> dict[str, Seen]:
    return {name.replace("_", "."): Seen(mark=a_mark(), since=moment) for name, moment in since.items()}


def paired(known: dict[str, Seen], now: float) -> Paired:
    return pair(known, finished(known, QUIET, now), QUIET, WAIT, now)


@pytest.mark.parametrize("pdf", ["a.pdf", "a.PDF", "a.Pdf"])
def test_an_export_and_a_pdf_of_its_stem_go_together(pdf: str) -> None:
    known = {"a.csv": Seen(mark=a_mark(), since=0), pdf: Seen(mark=a_mark(), since=5)}
    assert paired(known, 15).go == (("a.csv", pdf),)


@pytest.mark.parametrize("first", ["a.csv", "a.pdf"])
def test_whichever_comes_first_waits_for_the_other(first: str) -> None:
    second = {"a.csv": "a.pdf", "a.pdf": "a.csv"}[first]
    known = {first: Seen(mark=a_mark(), since=0)}
    alone = paired(known, 10)
    assert alone.go == () and alone.later == {first: 70}
    known = put_off(known, alone.later) | {second: Seen(mark=a_mark(), since=30)}
    assert paired(known, 39.9).go == ()
    assert paired(known, 40).go == (("a.csv", "a.pdf"),)


@pytest.mark.parametrize("name", ["a.csv", "a.pdf"])
def test_alone_it_goes_when_the_wait_is_over(name: str) -> None:
    known = {name: Seen(mark=a_mark(), since=0)}
    assert paired(known, 69.9).go == ()
    assert paired(known, 70).go == ((name, None),)


def test_an_export_waits_for_a_pdf_that_is_still_being_written() -> None:
    known = seen(a_csv=0, a_pdf=68)
    assert paired(known, 71).go == () and paired(known, 71).later == {"a.csv": 78}
    assert paired(known, 78).go == (("a.csv", "a.pdf"),)


@pytest.mark.parametrize("names", [("a.csv", "a.xml", "a.pdf"), ("a.csv", "a.pdf", "a.PDF"), ("a.csv", "a.txt")])
def test_where_several_files_share_a_stem_nobody_guesses(names: tuple[str, ...]) -> None:
    known = {name: Seen(mark=a_mark(), since=0) for name in names}
    assert sorted(paired(known, 10).go) == sorted((name, None) for name in names)


def test_other_stems_have_nothing_to_do_with_each_other() -> None:
    known = seen(a_csv=0, b_pdf=0, reading_17=0)
    assert paired(known, 10).go == () and set(paired(known, 10).later) == set(known)
    assert sorted(paired(known, 70).go) == [("a.csv", None), ("b.pdf", None), ("reading.17", None)]


def test_a_pair_is_handed_out_once() -> None:
    known = seen(a_csv=0, a_pdf=0, b_csv=0, b_pdf=0)
    assert sorted(paired(known, 20).go) == [("a.csv", "a.pdf"), ("b.csv", "b.pdf")]
