"""Which recordings a destination gets: a site's own rules, over what the file and its result say."""

from dataclasses import dataclass
from enum import StrEnum

from gateway.model.adequacy import Verdict
from gateway.model.recording import Recording
from gateway.model.summary import Summary


class KeptBack(StrEnum):
    """Why a recording does not go to one destination. Closed list; it stands in the audit log."""

    SITE = "another-site"
    LAYOUT = "another-layout"
    GUIDELINE = "another-guideline"
    NOT_ADEQUATE = "not-adequate"


@dataclass(frozen=True, slots=True, kw_only=True)
class Only:
    """What a destination takes; an empty list takes everything.

    `sites` are compared without regard to capitals and outer blanks; a file that names no site counts as `home`.
    `guidelines` are ids, of the one that the result was judged by. `adequate`: only recordings that were proved good
    enough.
    """

    sites: tuple[str, ...] = ()
    layouts: tuple[str, ...] = ()
    guidelines: tuple[str, ...] = ()
    adequate: bool = False
    home: str = ""

    def keeps_back(self, recording: Recording, summary: Summary) -> KeptBack | None:
        """Why this recording does not go there; None: it goes."""
        if self.sites and _plain(recording.site or self.home) not in {_plain(site) for site in self.sites}:
            return KeptBack.SITE
        if self.layouts and recording.source.map_name not in self.layouts:
            return KeptBack.LAYOUT
        if self.guidelines and summary.rules.guideline not in self.guidelines:
            return KeptBack.GUIDELINE
        if self.adequate and summary.adequacy.verdict is not Verdict.ADEQUATE:
            return KeptBack.NOT_ADEQUATE
        return None


EVERYTHING = Only()


def _plain(site: str) -> str:
    return " ".join(site.split()).casefold()
