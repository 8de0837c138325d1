"""The words by which a column or a fact is recognised, and how words are compared."""

import re
import unicodedata
from collections.abc import Mapping
from typing import Self

from pydantic import Field, model_validator

from gateway.mapping.parse import Declared

_BRACKETS = re.compile(r"[(\[{][^)\]}]*[)\]}]")
_UNITS = re.compile(r"\b(mm ?hg|kpa|bpm|1/min|/min)\b", re.IGNORECASE)
_APART = re.compile(r"[\W_]+")
_PLAIN = str.maketrans({"ł": "l", "Ł": "l", "ß": "ss", "ø": "o", "æ": "ae"})

LONGEST_WORD = 80  # no header is longer; a hostile cell may be

MarkedWords = Mapping[str, tuple[str, ...]]


class MeasuredWords(Declared):
    """Words of a status cell that mean a pressure was measured."""

    words: tuple[str, ...] = Field(min_length=1)


class Words(Declared):
    """What `words.toml` holds: words by the key of the map that they speak for."""

    columns: dict[str, tuple[str, ...]]
    facts: dict[str, tuple[str, ...]]
    measured: MeasuredWords
    kinds: dict[str, tuple[str, ...]]
    sexes: dict[str, tuple[str, ...]]
    arms: dict[str, tuple[str, ...]]
    truths: dict[str, tuple[str, ...]]
    sleeps: dict[str, tuple[str, ...]]

    @model_validator(mode="after")
    def _comparable(self) -> Self:
        lists = (self.columns, self.facts, self.kinds, self.sexes, self.arms, self.truths, self.sleeps)
        every = [word for known in lists for words in known.values() for word in words]
        if unlike := [word for word in (*every, *self.measured.words) if plain(word) != word]:
            raise ValueError(f"write {', '.join(unlike)} without accents, capitals, punctuation and units")
        return self


def plain(text: str) -> str:
    """A word as words are compared here: no case, accents, punctuation, brackets or units."""
    bare = _BRACKETS.sub(" ", text) if _BRACKETS.sub("", text).strip() else text
    without = _UNITS.sub(" ", bare)
    bare = without if without.strip() else bare
    letters = unicodedata.normalize("NFKD", bare.casefold().translate(_PLAIN))
    kept = "".join(each for each in letters if not unicodedata.combining(each))
    return " ".join(_APART.sub(" ", kept).split())


def meanings(word: str, known: MarkedWords) -> tuple[str, ...]:
    """Every key that the word may speak for, in the order of the file."""
    asked = plain(word) if len(word) <= LONGEST_WORD else ""
    return tuple(key for key, words in known.items() if asked in words)


def coded(seen: tuple[str, ...], known: MarkedWords) -> dict[str, str] | None:
    """Meaning of every word seen; None as soon as one is unknown or may mean two things."""
    found: dict[str, str] = {}
    for word in seen:
        said = meanings(word, known)
        if len(said) != 1:
            return None
        found[word] = said[0]
    return found
