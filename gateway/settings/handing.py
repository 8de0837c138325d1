"""A folder as destination, for a place without a server: another program fetches the bundles."""

from pathlib import Path
from typing import Literal

from gateway.model import PersonChoice
from gateway.settings.choices import Choices


class FolderDestination(Choices):
    """Where bundles are written, one file for each recording, and this site's choices for them.

    The person is only named by number: there is nobody to ask.
    """

    folder: Path
    """must exist; best a folder of its own on the share, so that it is missed when the share is away"""
    report_beside: bool = False
    """the one-page report as a PDF of the same name beside the bundle"""
    person: Literal[PersonChoice.LOGICAL] = PersonChoice.LOGICAL

    @property
    def url(self) -> str:
        """The folder as an address, for the audit repository."""
        return self.folder.absolute().as_uri()
