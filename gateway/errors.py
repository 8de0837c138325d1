"""The few errors that callers handle.

GatewayError
 ├── SettingsError      settings or command line are wrong; carries every problem found
 ├── MappingError       a file of `mappings/` or of the site's folder is wrong; carries every problem found
 ├── StoreError         the store cannot be used as it is
 │    ├── StoreMovedOn  a newer version changed it so that this one must not use it any more
 │    ├── LeaseLost     another worker took over the row this worker was holding
 │    └── StoreUnavailable   a full disk or a lock, whatever the work at hand; it can succeed later
 └── ContentFault       something we composed breaks a rule of FHIR or of ours; never sent

A doubtful *file* is never an error: it is a `gateway.model.Hold`, a value.
"""

import traceback
from collections.abc import Sequence
from pathlib import Path


class GatewayError(Exception):
    """Root of all errors that this package raises on purpose."""


class _Problems(GatewayError):  # noqa: N818  (never raised itself)
    """An error that lists every problem at once, so that one round of mending is enough."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


class SettingsError(_Problems):
    """Settings or command line are wrong. Each problem says where it is and what to write instead."""


class MappingError(_Problems):
    """A mapping, guideline, limits or code file is wrong. Each problem names the file and the place."""


class StoreError(GatewayError):
    """The store cannot be used as it is (too new, not writable, on a network share)."""


class StoreMovedOn(StoreError):  # noqa: N818  (a plain statement reads better at the call site)
    """A newer version has taken the store over; this program has to be stopped and upgraded."""


class LeaseLost(StoreError):  # noqa: N818  (a plain statement reads better at the call site)
    """The claimed row belongs to another worker by now; drop the work, it goes on elsewhere."""


class StoreUnavailable(StoreError):  # noqa: N818  (a plain statement, as above)
    """Disk, permission or lock is the cause and not the row at hand: the same work can succeed later."""


class ContentFault(_Problems):
    """Composed resources break a rule. Each problem names the resource and the element."""


def place_of(error: Exception) -> str:
    """Kind and place of a fault, for IT. Its text stays out: it may quote a person's details."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "gateway" in frame.filename] or frames
    return f"{type(error).__name__} at {Path(ours[-1].filename).name}:{ours[-1].lineno}"
