"""The labels of the page in one language, from the files of `words/`."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from gateway.errors import SettingsError

FIRST = "en"


@dataclass(frozen=True, slots=True)
class Words:
    """Labels by key. `months` are the twelve names as they stand inside a date."""

    language: str
    labels: Mapping[str, str]
    months: tuple[str, ...]

    def __getitem__(self, key: str) -> str:
        return self.labels[key]

    def say(self, key: str, **parts: object) -> str:
        """The label with its gaps filled."""
        return self.labels[key].format(**parts)


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
    return Words(language, found["labels"], tuple(found["months"]))
