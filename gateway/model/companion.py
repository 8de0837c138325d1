"""The PDF that the monitor's own software made beside an export: a file of the same stem, attached unread."""

from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256

from gateway.model.phrase import Phrase


class CompanionUse(StrEnum):
    """What becomes of a PDF with the stem of an export. `ignore`: it is a file like any other, which no map reads."""

    IGNORE = "ignore"
    INSTEAD = "instead"
    BESIDE = "beside"


class CompanionFault(StrEnum):
    """Why a PDF that came with an export is not filed. Each has a sentence below."""

    TOO_LARGE = "too-large"
    NOT_PDF = "not-pdf"
    CUT_OFF = "cut-off"
    ENCRYPTED = "encrypted"


SAID = {
    CompanionFault.TOO_LARGE: (
        "A PDF came with the export and was not filed: it is larger than the settings of this site allow."
    ),
    CompanionFault.NOT_PDF: "A file called a PDF came with the export and was not filed: it is none.",
    CompanionFault.CUT_OFF: "A PDF came with the export and was not filed: its end is missing.",
    CompanionFault.ENCRYPTED: (
        "A PDF came with the export and was not filed: it is encrypted, and nobody could read it in the record."
    ),
}
"""The sentence beside the result for each fault."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Companion:
    """The PDF of one recording. `content` None: it was too large to be kept in the store. `fault` None: it can be
    filed. `use` is what the site does with it.
    """

    content: bytes | None
    fault: CompanionFault | None
    use: CompanionUse = CompanionUse.BESIDE

    @property
    def sha256(self) -> str:
        """By what it is known, in hex; "" without content."""
        return sha256(self.content).hexdigest() if self.content is not None else ""

    @property
    def filed(self) -> bytes | None:
        """What goes into the record, None where it does not."""
        return self.content if self.fault is None and self.use is not CompanionUse.IGNORE else None

    @property
    def replaces(self) -> bool:
        """Is it filed instead of our report?"""
        return self.filed is not None and self.use is CompanionUse.INSTEAD

    @property
    def fate(self) -> str:
        """One word, for scripts and the audit log: how it is filed, or why it is not."""
        return self.fault.value if self.fault else self.use.value

    @property
    def sentence(self) -> Phrase | None:
        """What is said beside the result; None where it is filed."""
        return Phrase(SAID[self.fault]) if self.fault else None
