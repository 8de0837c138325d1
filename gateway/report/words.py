"""The labels of the page in one language, from the files of `words/`."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from gateway.errors import SettingsError

FIRST = "en"
NUMBERS = re.compile(r"-?\d+(\.\d+)?(/-?\d+(\.\d+)?)?")


@dataclass(frozen=True, slots=True)
class Words:
    """Labels by key. `months` are the twelve names as they stand inside a date, `decimal` what stands in a number."""

    language: str
    labels: Mapping[str, str]
    months: tuple[str, ...]
    decimal: str = "."

    def __getitem__(self, key: str) -> str:
        return self.labels[key]

    def say(self, key: str, **parts: object) -> str:
        """The label with its gaps filled, numbers as this language writes them."""
        return self.labels[key].format(**{name: self.figure(str(part)) for name, part in parts.items()})

    def figure(self, text: str) -> str:
        """A number, or a pair of them, as this language writes it; any other text as it is."""
        return text.replace(".", self.decimal) if NUMBERS.fullmatch(text) else text


def languages() -> tuple[str, ...]:
    """Languages that can be chosen, in order of name."""
    folder = files("gateway.report") / "words"
    return tuple(sorted(entry.name[:-5] for entry in folder.iterdir() if entry.name.endswith(".toml")))


@cache
def words_of(language: str) -> Words:
    """The words of a language. Raises SettingsError for one that is not there."""
    if language not in languages():
        raise SettingsError([f"report language '{language}' is not there: write one of {', '.join(languages())}"])
    text = (files("gateway.report") / "words" / f"{language}.toml").read_text("utf-8")
    found = tomllib.loads(text)
    return Words(language, found["labels"], tuple(found["months"]), found["decimal"])
