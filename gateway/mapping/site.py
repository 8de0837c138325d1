"""What a site knows about every export that comes from it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteDefaults:
    """Used only where the file is silent. `zone` is an IANA name; `zone_assumed` says that nobody configured it
    (a preview without settings), which becomes a finding. `most_bytes` is the largest file that is read.
    """

    zone: str | None = None
    zone_assumed: bool = False
    identifier_system: str | None = None
    most_bytes: int = 16 * 1024 * 1024
