"""Outer forms of an export: how its bytes become named facts and rows of named cells."""

import codecs
import re
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from gateway.mapping.parse import Declared


def _known(name: str) -> str:
    try:
        found = codecs.lookup(name)
    except LookupError:
        raise ValueError(f"there is no encoding '{name}'; write for instance 'windows-1252'") from None
    if not getattr(found, "_is_text_encoding", True):
        raise ValueError(f"'{name}' is no text encoding")
    return name


CodePage = Annotated[str, AfterValidator(_known)]
"""An encoding that Python knows by name."""


class Grid(Declared):
    """Rows of cells: a preamble of facts, a header row, a table.

    `decimal` is the decimal mark of the whole file. `fact_separator` stands between name and value of a fact, if
    they do not stand in cells of their own. `ends` are first cells at which a table ends (a footer follows).
    `facts_again` are first cells of rows below which facts stand once more.
    """

    decimal: Literal[".", ","]
    fact_separator: str | None = Field(default=None, min_length=1, max_length=1)
    ends: tuple[str, ...] = ()
    facts_again: tuple[str, ...] = ()

    @property
    def joint(self) -> str:
        """What stands between two cells of a row."""
        return "\t"


class Delimited(Grid):
    """Delimited text (RFC 4180).

    `code_page` is the encoding of a file that has no byte-order mark and is not UTF-8; without it such a file is
    held.
    """

    kind: Literal["delimited"]
    delimiter: str = Field(min_length=1, max_length=1)
    code_page: CodePage | None = None

    @property
    def joint(self) -> str:
        """The delimiter."""
        return self.delimiter

    @model_validator(mode="after")
    def _apart(self) -> Self:
        if self.delimiter in '"\r\n' or self.delimiter.isalnum():
            raise ValueError("delimiter: a letter, digit, quote or line end cannot separate cells")
        return self


class FixedWidth(Grid):
    """Text in columns of fixed width. `cuts` are the positions (from 1) at which the cells begin.

    A word or number that stands across a cut holds the file, unless `dense` says that the cells touch. With a
    `fact_separator` the facts are not cut. `code_page` as in delimited text.
    """

    kind: Literal["fixed-width"]
    cuts: tuple[Annotated[int, Field(ge=1, le=2000)], ...] = Field(min_length=2, max_length=200)
    dense: bool = False
    code_page: CodePage | None = None

    @property
    def joint(self) -> str:
        """Nothing: a row is its cells one after the other."""
        return ""

    @model_validator(mode="after")
    def _rising(self) -> Self:
        if self.cuts[0] != 1 or list(self.cuts) != sorted(set(self.cuts)):
            raise ValueError("cuts: they begin with 1 and rise")
        return self


class Workbook(Grid):
    """A workbook: .xlsx or .xlsm (ECMA-376), or .ods (OpenDocument 1.3). `sheet` is its name or its number from 1.

    Cells that hold a number, a date or a time are written out: numbers with the mark `decimal`, dates and times as
    ISO 8601. Nothing in a workbook is ever run; of a formula only the result that was stored counts.
    """

    kind: Literal["workbook"]
    decimal: Literal[".", ","] = "."
    sheet: str | Annotated[int, Field(ge=1, le=200)] = 1


class Xml(Declared):
    """An XML document. A fact is a path from its root element, a column a path from an element that `rows` finds.

    `Wearer/Number` goes down by names, `Set/@serial` ends at an attribute, `@at` is an attribute of the row itself,
    `Value[@of='upper']` takes only such elements, `m:Set` is a name in the namespace that `namespaces` calls `m`.
    """

    kind: Literal["xml"]
    decimal: Literal[".", ","] = "."
    rows: str
    namespaces: dict[str, str] = Field(default_factory=dict)

    def fault(self, path: str) -> str | None:
        """What is wrong with a path, None when nothing is."""
        if not _XML_PATH.fullmatch(path):
            return f"'{path}' is no path; write for instance Wearer/Number or Set/@serial"
        for prefix in re.findall(r"(?:^|/)@?([\w.-]+):", path):
            if prefix not in self.namespaces:
                return f"'{prefix}' in '{path}' is not among the namespaces"
        return None


class Json(Declared):
    """A JSON document. A fact is a path of names from the top, a column one from a member of the list at `rows`.

    `wearer/number` goes down by names; a list on the way stands for each of its members. `rows` is "" where the
    document itself is the list.
    """

    kind: Literal["json"]
    decimal: Literal["."] = "."
    rows: str

    def fault(self, path: str) -> str | None:
        """What is wrong with a path, None when nothing is."""
        return None if all(path.split("/")) else f"'{path}' is no path; write for instance wearer/number"


class Hl7(Declared):
    """HL7 version 2 observation results (ORU^R01), one message or a batch of them (FHS, BHS).

    A fact is a field of a segment: `PID-5.1`, or `PID-3[5=NH].1` for the repetition whose fifth component is NH.
    `unit` is OBX-6 of the pressures. A column is a code of OBX-3, or `time` (OBX-14, else OBR-7), `status` (OBX-11),
    or `note` (NTE-3 below the observations). `code_systems`: only codes of these systems count (OBX-3.3, OBX-3.6).
    """

    kind: Literal["hl7"]
    decimal: Literal["."] = "."
    code_systems: tuple[str, ...] = ()
    code_page: CodePage | None = None

    def fault(self, path: str) -> str | None:
        """What is wrong with the name of a fact, None when nothing is."""
        if path == "unit" or HL7_FIELD.fullmatch(path):
            return None
        return f"'{path}' is no field; write for instance PID-5.1 or PID-3[5=NH].1"


class Fhir(Declared):
    """A FHIR R4 Bundle of Observations. Facts: `identifier`, `identifier_system`, `family_name`, `given_name`,
    `birth_date`, `sex` (of the one Patient), `unit` (of the pressures). Columns: `time`, `status`, `note`, and codes.

    `identifier_system` chooses among several identifiers of the patient. `code_systems`: only codes of these systems
    count.
    """

    kind: Literal["fhir"]
    decimal: Literal["."] = "."
    code_systems: tuple[str, ...] = ()
    identifier_system: str | None = None

    def fault(self, path: str) -> str | None:
        """What is wrong with the name of a fact, None when nothing is."""
        return None if path in FHIR_FACTS else f"'{path}' is none of {', '.join(FHIR_FACTS)}"


FHIR_FACTS = ("identifier", "identifier_system", "family_name", "given_name", "birth_date", "sex", "unit")
HL7_FIELD = re.compile(r"([A-Z][A-Z0-9]{2})-([1-9]\d?)(?:\[([1-9]\d?)=([^\]]+)\])?(?:\.([1-9]\d?))?", re.ASCII)
_STEP = r"(?:[A-Za-z_][\w.-]*:)?[A-Za-z_][\w.-]*"
_XML_PATH = re.compile(
    rf"(?:{_STEP}(?:\[@[A-Za-z_][\w.-]*='[^'\]]*'\])?/)*"
    rf"(?:{_STEP}(?:\[@[A-Za-z_][\w.-]*='[^'\]]*'\])?|@{_STEP})"
)

Format = Annotated[Delimited | FixedWidth | Workbook | Xml | Json | Hl7 | Fhir, Field(discriminator="kind")]
"""All outer forms; each has its own `kind`."""
