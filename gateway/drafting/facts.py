"""What stands above the table: facts known by their names, the values never quoted."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from gateway.drafting.guess import Guess
from gateway.drafting.moments import date_patterns, wall
from gateway.drafting.table import NUMBER, Table
from gateway.drafting.words import MarkedWords, Words, coded, meanings
from gateway.read.extract import Figure
from gateway.read.tree import clean
from gateway.read.zone import zone_named

_TEXTS = {
    "identifier": "person.identifier",
    "identifier_system": "person.identifier_system",
    "family_name": "person.family_name",
    "given_name": "person.given_name",
    "model": "monitor.model",
    "serial": "monitor.serial",
    "cuff_size": "monitor.cuff_size",
    "order": "circumstances.order",
    "site": "site",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One row above the table. `meaning` is a key of the words, "" when the name is not known."""

    row: int
    name: str
    values: tuple[str, ...]
    meaning: str

    @property
    def only(self) -> str | None:
        """The value, None when there are several."""
        return None if len(self.values) > 1 else (self.values or ("",))[0]


def separator(table: Table) -> str | None:
    """The sign between name and value where that is not the delimiter of the table."""
    single = [cells[0] for _, cells in table.above if len(cells) == 1]
    by_sign = {sign: sum(bool(text.partition(sign)[2].strip()) for text in single) for sign in ":="}
    sign = max(by_sign, key=lambda each: by_sign[each])
    several = sum(len(cells) > 1 for _, cells in table.above)
    return sign if by_sign[sign] > several else None


def found(table: Table, words: Words, sign: str | None) -> tuple[Fact, ...]:
    """Every row above the table as a fact."""
    facts: list[Fact] = []
    for row, cells in table.above:
        parts = [cells[0], *cells[1:]]
        if sign is not None:
            name, _, text = table.delimiter.join(cells).partition(sign)
            parts = [name, text]
        values = [clean(each) for each in parts[1:]]
        while values and not values[-1]:
            values.pop()
        said = meanings(parts[0], words.facts)
        facts.append(Fact(row=row, name=parts[0].strip(), values=tuple(values), meaning=said[0] if said else ""))
    return tuple(facts)


def guesses(facts: Sequence[Fact], words: Words, date_pattern: str, now: datetime) -> Iterator[Guess]:
    """A guess for each fact that a map can read. The number of the person is always there: a map needs it."""
    by_meaning: dict[str, list[Fact]] = {}
    for fact in facts:
        by_meaning.setdefault(fact.meaning, []).append(fact)
    usable = {
        meaning: rows[0]
        for meaning, rows in by_meaning.items()
        if meaning and len({row.name for row in rows}) == 1 and all(row.only is not None for row in rows)
    }
    if "identifier" not in usable:
        known = "identifier_system" in usable
        yield from _number_of_person([] if known else by_meaning.get("identifier", []))
    for meaning, key in _TEXTS.items():
        if meaning == "identifier" and meaning in usable and isinstance(usable[meaning].only, Figure):
            yield _figure(key, usable[meaning])
        elif meaning in usable:
            yield Guess(key=key, value={"fact": usable[meaning].name}, evidence="by its name")
    yield from _special(usable, words, date_pattern, now)


def _number_of_person(rows: Sequence[Fact]) -> Iterator[Guess]:
    """A number whose fact is not there, or has a second value, which may be its system (a URI)."""
    fact = rows[0] if len(rows) == 1 and len(rows[0].values) == 2 and ":" in rows[0].values[1] else None
    if fact is None:
        asked = "which fact outside the table holds the number of the person, and it alone?"
        yield Guess(key="person.identifier", value={"fact": "identifier"}, evidence=asked, proven=False)
        return
    yield Guess(key="person.identifier", value={"fact": fact.name}, evidence="by its name")
    asked = "the second value of that fact looks like the system of the number"
    place = {"fact": fact.name, "part": 2}
    yield Guess(key="person.identifier_system", value=place, evidence=asked, proven=False)


def _figure(key: str, fact: Fact) -> Guess:
    """A number cell shows no zeros in front: only a fixed length can bring them back."""
    place = {"fact": fact.name, "digits": len(fact.only or "")}
    asked = "by its name; it stands in a number cell, so how many digits has every such number?"
    return Guess(key=key, value=place, evidence=asked, proven=False)


def _special(usable: dict[str, Fact], words: Words, date_pattern: str, now: datetime) -> Iterator[Guess]:
    if fact := usable.get("birth_date"):
        yield from _birth_date(fact, date_pattern, now)
    if fact := usable.get("sex"):
        yield from _coded("person.sex", fact, words.sexes)
    if fact := usable.get("arm"):
        yield from _coded("monitor.arm", fact, words.arms)
    if (fact := usable.get("arm_circumference")) and fact.only and NUMBER.fullmatch(fact.only):
        place: dict[str, str] = {"fact": fact.name}
        if marks := {sign for sign in ".," if sign in fact.only}:
            place["decimal"] = marks.pop()
        yield Guess(
            key="monitor.arm_circumference", value=place, evidence="by its name; is it in centimetres?", proven=False
        )
    if (fact := usable.get("timezone")) and fact.only and zone_named(fact.only):
        yield Guess(key="timezone", value={"fact": fact.name}, evidence="by its name; it holds the name of a zone")


def _coded(key: str, fact: Fact, known: MarkedWords) -> Iterator[Guess]:
    codes = coded((fact.only,), known) if fact.only else None
    if codes:
        asked = "by its name and one word seen; list the other words that can stand there"
        yield Guess(key=key, value={"fact": fact.name, "codes": codes}, evidence=asked, proven=False)


def _birth_date(fact: Fact, date_pattern: str, now: datetime) -> Iterator[Guess]:
    text = fact.only or ""
    possible = [
        each
        for each in date_patterns([text])
        if (born := wall(each, text, None, "")) and born <= now.replace(tzinfo=None)
    ]
    if not possible:
        return
    like = [each for each in possible if each.replace("DD", "D").replace("MM", "M")[0] == date_pattern[0]]
    pattern = (like or possible)[0]
    firm = len(possible) == 1 and "YYYY" in pattern
    said = "by its name" + ("" if firm else "; day or month first? the file cannot tell")
    yield Guess(key="person.birth_date", value={"fact": fact.name, "pattern": pattern}, evidence=said, proven=firm)
