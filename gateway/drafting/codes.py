"""Columns of words: status, kind, irregular pulse, sleep mark, note."""

from collections import Counter
from collections.abc import Iterator

from gateway.drafting.guess import Guess
from gateway.drafting.numbers import pairs
from gateway.drafting.table import Table
from gateway.drafting.words import MarkedWords, Words, coded, plain

_MOST_CODES = 12  # a column with more words than these is free text


def of_table(table: Table, words: Words) -> Iterator[Guess]:
    """A guess for each column of words that a map can read."""
    if "status" in table.columns:
        yield from _status(table, words)
    if "kind" in table.columns:
        yield from _coded(table, "kind", words.kinds, {"empty": "scheduled"})
    if "irregular" in table.columns:
        yield from _coded(table, "irregular", words.truths, {})
    if "asleep_mark" in table.columns:
        yield from _coded(table, "asleep_mark", {**words.sleeps, **words.truths}, {"means": "programme"})
    if "note" in table.columns:
        yield Guess(key="readings.note", value={"column": table.name("note")}, evidence="free text, by its header")


def _seen(table: Table, meaning: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for _, text in table.cells(meaning) if text))


_TRUE = {"yes": True, "no": False, "asleep": True, "awake": False}


def _coded(table: Table, meaning: str, known: MarkedWords, more: dict[str, str]) -> Iterator[Guess]:
    """Only when every word seen is known: a word that is not listed would hold the file."""
    seen = _seen(table, meaning)
    found = coded(seen, known)
    if not seen or not found or meaning in table.rivals:
        return
    codes = {word: _TRUE.get(said, said) for word, said in found.items()}
    evidence = f"by its header and {len(seen)} words; which other words can stand there?"
    if meaning == "asleep_mark":
        evidence += " Taken for the programme of the monitor, not for sleep; write 'diary' if the person sets it"
    place = {"column": table.name(meaning), "codes": codes, **more}
    yield Guess(key=f"readings.{meaning}", value=place, evidence=evidence, proven=False)


def _status(table: Table, words: Words) -> Iterator[Guess]:
    """A word beside two pressures means measured, one beside none a failure; only a known word proves it."""
    cells = [text for _, text in table.cells("status")]
    rows = Counter((text, pair is not None) for text, pair in zip(cells, pairs(table), strict=True) if text)
    seen = tuple(dict.fromkeys(text for text in cells if text))
    if len(seen) > _MOST_CODES:
        return
    known = {word for word in seen if plain(word) in words.measured.words}
    beside = [word for word in seen if rows[word, True]]
    first = max(beside, key=lambda word: rows[word, True], default=None)
    if any(not text and pair is not None for text, pair in zip(cells, pairs(table), strict=True)):
        first = None  # then an empty cell means measured, and a word something else
    measured = [word for word in seen if word in known or (not known and word == first)]
    failed = [word for word in seen if word not in measured]
    doubtful = sum(rows[word, True] > 0 for word in failed) + sum(rows[word, False] > 0 for word in measured)
    firm = not doubtful and set(measured) <= known and bool(measured)
    evidence = (
        f"{len(measured)} words stand beside pressures, {len(failed)} beside none"
        if not doubtful
        else f"{doubtful} words stand beside pressures in some rows and beside none in others, or beside unusual ones"
    )
    if not firm:
        evidence += "; which words mean a measured pressure?"
    place: dict[str, object] = {"column": table.name("status"), "measured": measured or ["ok"], "failed": failed}
    yield Guess(key="readings.status", value=place, evidence=evidence, proven=firm)
