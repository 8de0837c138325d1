"""What a look at a server found that the ledger does not say."""

from dataclasses import dataclass
from enum import StrEnum


class Fault(StrEnum):
    """How server and ledger differ. Closed list."""

    MISSING = "missing"
    """filed, and not there any more"""
    DOUBLED = "doubled"
    """there more than once"""
    CHANGED = "changed"
    """there, and it says something else, or lies under another id"""
    FOREIGN = "foreign"
    """there under the recording's number, and not filed by us"""
    NOT_COMPARED = "not-compared"
    """the recording could not be looked at"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One entry at which they differ. `resource_id`: our id, "" for a foreign one; `server_ids`: where it lies.
    `what`: places in the resource, never values.
    """

    fault: Fault
    type: str = ""
    resource_id: str = ""
    server_ids: tuple[str, ...] = ()
    what: str = ""
