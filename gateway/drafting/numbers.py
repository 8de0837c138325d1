"""What the numbers of a table say about their decimal mark, their unit, and marks for "no value"."""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from decimal import Decimal

from gateway.drafting.guess import Guess
from gateway.drafting.table import NUMBER, NUMERIC, Table
from gateway.mapping.source import COMMON_MARKS
from gateway.read.values import is_mark

LOWEST_MMHG, HIGHEST_KPA, HIGHEST_MMHG = 50, 40, 300
"""No systolic pressure of a living person lies outside (own rule, wider than any limit in use): 40 kPa are 300 mmHg,
and 50 mmHg are less than 7 kPa."""
_ENOUGH = 3
_SAID = {"mmHg": re.compile(r"\bmm ?\[?hg\b", re.IGNORECASE), "kPa": re.compile(r"\bkpa\b", re.IGNORECASE)}


def value(text: str) -> Decimal | None:
    """The number in a cell whichever its decimal mark; None for anything else and for common marks."""
    number = Decimal(text.replace(",", ".")) if NUMBER.fullmatch(text) else None
    return None if number is None or number < 0 or is_mark(text, number, COMMON_MARKS) else number


def pairs(table: Table) -> list[tuple[Decimal, Decimal] | None]:
    """Both pressures of each row, None where one is not a number."""
    cells = zip(table.cells("systolic"), table.cells("diastolic"), strict=True)
    found = [(value(upper), value(lower)) for (_, upper), (_, lower) in cells]
    return [None if upper is None or lower is None else (upper, lower) for upper, lower in found]


def decimal_mark(table: Table) -> Guess:
    """The mark that the numbers show."""
    texts = [
        text for name in NUMERIC if name in table.columns for _, text in table.cells(name) if NUMBER.fullmatch(text)
    ]
    points, commas = sum("." in text for text in texts), sum("," in text for text in texts)
    mark = "," if commas > points or (commas == points and table.delimiter == ";") else "."
    if points and commas:
        evidence = f"{points} numbers have a point and {commas} a comma; only one of them is read"
    elif points or commas:
        evidence = f"{points or commas} numbers show it, none the other"
    else:
        evidence = "no number of this file has decimals; how would one be written?"
    return Guess(key="format.decimal", value=mark, evidence=evidence, proven=(points == 0) != (commas == 0))


def commas(table: Table) -> Iterator[Guess]:
    """A question where the form of the file knows a decimal point only, and numbers show a comma."""
    texts = [text for name in NUMERIC if name in table.columns for _, text in table.cells(name)]
    if count := sum("," in text for text in texts if NUMBER.fullmatch(text)):
        asked = f"{count} numbers have a comma, which no map of this form reads: can the export write a point?"
        yield Guess(key="format.decimal", value=".", evidence=asked, proven=False)


def unit(table: Table, stated: str | None) -> Guess:
    """mmHg or kPa, by what the header or a fact says and by the range of every systolic pressure."""
    upper = [pair[0] for pair in pairs(table) if pair is not None]
    headers = f"{table.word('systolic')} {table.word('diastolic')} {stated or ''}"
    said = [name for name, word in _SAID.items() if word.search(headers)]
    high = len(upper) >= _ENOUGH and min(upper) >= LOWEST_MMHG
    low = len(upper) >= _ENOUGH and max(upper) <= HIGHEST_KPA
    if high and said in ([], ["mmHg"]):
        shown = f"all {len(upper)} systolic pressures are {LOWEST_MMHG} or more, which cannot be kPa"
        return Guess(key="readings.unit", value="mmHg", evidence=shown)
    if low and said == ["kPa"]:
        shown = f"the file says kPa, and all {len(upper)} systolic pressures are {HIGHEST_KPA} or less"
        return Guess(key="readings.unit", value="kPa", evidence=shown)
    if low and not said:
        doubt = "all systolic pressures are too low for mmHg; kPa, or another unit that no map can read?"
        return Guess(key="readings.unit", value="kPa", evidence=doubt, proven=False)
    guess = said[0] if len(said) == 1 else "mmHg"
    doubt = f"mmHg or kPa? the words ({', '.join(said) or 'none'}) and the numbers do not settle it"
    return Guess(key="readings.unit", value=guess, evidence=doubt, proven=False)


def marks(table: Table, unit_name: str) -> Guess | None:
    """Texts and impossible numbers that stand where a pressure should, beyond the common marks."""
    texts = Counter(
        text for name in ("systolic", "diastolic") for _, text in table.cells(name) if text and value(text) is None
    )
    new = [text for text in texts if not _common(text) and len(text) <= 12]
    most = HIGHEST_MMHG if unit_name == "mmHg" else HIGHEST_KPA
    cells = {text for name in ("systolic", "diastolic") for _, text in table.cells(name)}
    new += sorted(text for text in cells if (number := value(text)) is not None and number > most)
    doubtful = _maybe_true(table)
    if not new and not doubtful:
        return None
    evidence = "the common marks for 'no value'"
    if new:
        evidence += f", and {len(new)} more that stand where a pressure should; are they marks?"
    if doubtful:
        evidence += f"; {doubtful} rows have 255 beside a diastolic pressure: is that a pressure?"
    return Guess(key="readings.marks", value=[*COMMON_MARKS, *map(_escaped, new)], evidence=evidence, proven=False)


def _common(text: str) -> bool:
    number = Decimal(text.replace(",", ".")) if NUMBER.fullmatch(text) else None
    return is_mark(text, number, COMMON_MARKS)


def _escaped(text: str) -> str:
    return re.sub(r"([*?\[])", r"[\1]", text)


def _maybe_true(table: Table) -> int:
    cells: Sequence[tuple[tuple[int, str], tuple[int, str]]] = list(
        zip(table.cells("systolic"), table.cells("diastolic"), strict=True)
    )
    return sum(upper == "255" and value(lower) is not None for (_, upper), (_, lower) in cells)


def columns(table: Table) -> list[Guess]:
    """The columns of numbers, each with what its numbers say about the word of its header."""
    found = [pair for pair in pairs(table) if pair is not None]
    firm = len(found) >= _ENOUGH and sum(upper > lower for upper, lower in found) >= 0.9 * len(found)
    shown = (
        f"by its header; it is the {{}} pressure in most of {len(found)} rows"
        if firm
        else ("by its header, but the numbers do not show which pressure is which")
    )
    guesses = [
        _column(table, "systolic", shown.format("higher"), firm),
        _column(table, "diastolic", shown.format("lower"), firm),
    ]
    if "mean" in table.columns:
        asked = "by its header; does the monitor measure the mean? One that is only computed must not be read"
        guesses.append(_column(table, "mean", asked, False))
    if "heart_rate" in table.columns:
        rates = [rate for _, text in table.cells("heart_rate") if (rate := value(text)) is not None]
        good = len(rates) >= _ENOUGH and all(20 <= rate <= 250 for rate in rates)
        said = f"by its header; {len(rates)} numbers" + (", all possible heart rates" if good else "")
        guesses.append(_column(table, "heart_rate", said, good))
    return guesses


def _column(table: Table, meaning: str, evidence: str, proven: bool) -> Guess:
    rivals = table.rivals.get(meaning, ())
    if rivals:
        places = ", ".join(str(at + 1) for at in rivals)
        evidence, proven = f"{evidence}; column {places} could be it as well", False
    key, place = f"readings.{meaning}", {"column": table.name(meaning)}
    return Guess(key=key, value=place, evidence=evidence, proven=proven)
