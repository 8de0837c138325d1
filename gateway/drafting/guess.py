"""What a draft is made of: guesses with their evidence, and how they are written down."""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

_TABLES = ("", "signs", "format", "person", "monitor", "schedule", "circumstances", "readings")


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """One key of the map. `key` is its path ("readings.unit"); `value` text, truth, whole number, list or table.

    `evidence` says what speaks for it, in words that hold nothing of a person. `proven`: nothing in the whole file
    speaks for another reading; otherwise it is a question that the file cannot answer. Without evidence the line is
    no guess but form.
    """

    key: str
    value: object
    evidence: str = ""
    proven: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A proposed source map as TOML, with every guess, and remarks that belong to no key."""

    text: str
    guesses: tuple[Guess, ...]
    remarks: tuple[str, ...]

    @property
    def questions(self) -> frozenset[str]:
        """Keys that the file leaves open."""
        return frozenset(each.key for each in self.guesses if not each.proven)


@dataclass(frozen=True, slots=True)
class NoDraft:
    """Why nothing can be proposed, and what to do."""

    sentence: str


def written(guesses: Sequence[Guess], remarks: Sequence[str], top: Sequence[str]) -> str:
    """The draft as TOML: a comment in front of every guess."""
    lines = [*(f"# {each}" for each in top), *(f"# CONFIRM: {each}" for each in remarks)]
    for table in _TABLES:
        inside = [each for each in guesses if each.key.rpartition(".")[0] == table]
        if inside and table:
            lines += ["", f"[{table}]"]
        lines += _lines(inside)
    return "\n".join(lines) + "\n"


def _lines(guesses: Iterable[Guess]) -> Iterator[str]:
    for guess in guesses:
        if guess.evidence:
            yield f"# CONFIRM: {'' if guess.proven else 'OPEN QUESTION: '}{_one_line(guess.evidence)}"
        yield f"{guess.key.rpartition('.')[2]} = {toml(guess.value)}"


def _one_line(text: str) -> str:
    return " ".join(text.split())


def toml(value: object) -> str:
    """A value as TOML writes it in one line. JSON strings are basic strings of TOML but for DEL."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(key)} = {toml(each)}" for key, each in value.items()) + " }"
    if isinstance(value, Sequence):
        return "[" + ", ".join(toml(each) for each in value) + "]"
    raise TypeError(f"{type(value).__name__} does not belong into a map")


def _key(name: str) -> str:
    return name if name.isascii() and name.replace("_", "").replace("-", "").isalnum() else toml(name)
