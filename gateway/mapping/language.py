"""The sentences of the product in another language, as data."""

import re
from datetime import date
from decimal import Decimal
from string import Formatter
from typing import Self

from pydantic import Field, model_validator

from gateway.mapping.parse import Declared
from gateway.model.phrase import Phrase

_NUMBERS = re.compile(r"-?\d+(\.\d+)?(/-?\d+(\.\d+)?)?")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}(?= \d{2}:\d{2}$|$)")


class Language(Declared):
    """One language. `sentences` holds our wording by the English template, with the same gaps in braces.

    `decimal` stands between the digits of a number, `day` is how a date is written (strftime). A template that is
    not there is said in English: a site may have written its own.
    """

    id: str = Field(pattern=r"^[a-z]{2}$")
    decimal: str = Field(default=".", pattern=r"^[.,]$")
    day: str = "%Y-%m-%d"
    sentences: dict[str, str] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _same_gaps(self) -> Self:
        for english, own in self.sentences.items():
            if gaps(english) != gaps(own):
                raise ValueError(f"sentences: the gaps in braces differ from the English of '{english[:60]}'")
        return self

    def tell(self, text: str) -> str:
        """A phrase in this language; any other text as it is."""
        if not isinstance(text, Phrase):
            return text
        if self.id == ENGLISH.id:
            return str(text)
        template = self.sentences.get(text.template, text.template)
        if not text.parts:
            return template
        return template.format(**{name: self._part(part) for name, part in text.parts.items()})

    def _part(self, part: object) -> str:
        if isinstance(part, Phrase):
            return self.tell(part)
        if isinstance(part, date):
            return part.strftime(self.day)
        text = str(part)
        if isinstance(part, Decimal | float) or _NUMBERS.fullmatch(text):
            return text.replace(".", self.decimal)
        return _DAY.sub(lambda found: date.fromisoformat(found[0]).strftime(self.day), text)


ENGLISH = Language(id="en")


def gaps(template: str) -> frozenset[str]:
    """Names of the gaps of a template. Raises ValueError for braces that do not match."""
    return frozenset(name for _, name, _, _ in Formatter().parse(template) if name)
