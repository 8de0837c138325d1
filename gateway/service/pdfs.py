"""PDFs of the monitor's own software: read at the edge, where the site wants them."""

from hashlib import sha256
from pathlib import Path

from gateway.intake import Tools
from gateway.model import Companion, CompanionFault, CompanionUse
from gateway.read.companion import companion, looks_like_pdf
from gateway.settings.sections import Companions
from gateway.store import Store
from gateway.watch import Arrival, Refusal, Refused, is_pdf, take

MOST_STORED = 4
"""A file up to this many times the reading limit is stored and held in the store; beyond, it is only put aside."""


class Pdfs:
    """The PDFs of one inbox. `most_stored` bytes and no more are kept of a file, filed or not."""

    def __init__(self, choice: Companions, most_stored: int) -> None:
        self._choice = choice
        self._most_stored = most_stored

    def beside(self, arrival: Arrival) -> Companion | Refused | None:
        """The PDF that came with an export, None without one; Refused where it cannot be read now."""
        if arrival.companion is None:
            return None
        content = take(arrival.companion, self._most_stored)
        if isinstance(content, bytes):
            return companion(content, self._choice.most_bytes)
        return TOO_LARGE if content.why is Refusal.TOO_LARGE else content

    def kept_with(self, arrival: Arrival, content: bytes, store: Store) -> str | None:
        """The recording with which this PDF is kept already: the service was stopped between moving the two."""
        if self._choice.use is CompanionUse.IGNORE or arrival.companion or not looks_like_pdf(content):
            return None
        return store.enclosed_in(sha256(content).hexdigest())


TOO_LARGE = Companion(content=None, fault=CompanionFault.TOO_LARGE)


def lying_beside(file: Path, tools: Tools) -> Path | None:
    """The PDF of the same stem in the folder of an export, where the site wants PDFs; a link is none."""
    if tools.companion is CompanionUse.IGNORE or is_pdf(file.name):
        return None
    found = [file.with_suffix(suffix) for suffix in (".pdf", ".PDF")]
    return next((each for each in found if each.is_file() and not each.is_symlink()), None)


def companion_at(path: Path, tools: Tools) -> Companion:
    """A PDF that a person named, or that lies beside the export. Raises OSError where it cannot be read."""
    with path.open("rb") as opened:
        content = opened.read(MOST_STORED * tools.defaults.most_bytes + 1)
    return companion(content, tools.companion_bytes)
