"""Outer forms of an export: how its bytes become named facts and rows of named cells."""

import codecs
from typing import Literal, Self

from pydantic import Field, field_validator, model_validator

from gateway.mapping.parse import Declared


class Delimited(Declared):
    """Delimited text (RFC 4180): a preamble of facts, a header row, a table.

    `code_page` is the encoding of a file that has no byte-order mark and is not UTF-8; without it such a file is
    held. `fact_separator` stands between name and value of a fact, if that is not the delimiter. `ends` are first
    cells at which the table ends (a footer follows). `decimal` is the decimal mark of the whole file.
    """

    kind: Literal["delimited"]
    delimiter: str = Field(min_length=1, max_length=1)
    decimal: Literal[".", ","]
    code_page: str | None = None
    fact_separator: str | None = Field(default=None, min_length=1, max_length=1)
    ends: tuple[str, ...] = ()

    @field_validator("code_page")
    @classmethod
    def _known(cls, name: str | None) -> str | None:
        if name is None:
            return None
        try:
            found = codecs.lookup(name)
        except LookupError:
            raise ValueError(f"there is no encoding '{name}'; write for instance 'windows-1252'") from None
        if not getattr(found, "_is_text_encoding", True):
            raise ValueError(f"'{name}' is no text encoding")
        return name

    @model_validator(mode="after")
    def _apart(self) -> Self:
        if self.delimiter in '"\r\n' or self.delimiter.isalnum():
            raise ValueError("delimiter: a letter, digit, quote or line end cannot separate cells")
        return self


Format = Delimited
"""All outer forms; each has its own `kind`."""
