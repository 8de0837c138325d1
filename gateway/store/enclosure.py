"""The PDF that came with an export, kept with its recording by its hash."""

from datetime import datetime

from sqlalchemy import Connection, insert, select, update

from gateway.model import Companion, CompanionFault, RecordingState
from gateway.store.tables import originals, recordings

_R, _O = recordings.c, originals.c
_OPEN = (RecordingState.RECEIVED, RecordingState.HELD)


def enclose(connection: Connection, recording_id: str, companion: Companion, now: datetime) -> bool:
    """Keep the PDF with a recording that is not filed yet and has none. True where it is kept, now or from before.

    Whoever works on the recording loses it: the recording is worked on again, with the PDF.
    """
    row = connection.execute(select(_R.state, _R.companion, _R.companion_fault).where(_R.id == recording_id)).one()
    if row.companion is not None or row.companion_fault is not None:
        return bool((row.companion or "") == companion.sha256)
    if row.state not in _OPEN:
        return False
    digest = companion.sha256 or None
    if digest and not connection.execute(select(_O.sha256).where(_O.sha256 == digest)).first():
        connection.execute(insert(originals).values(sha256=digest, content=companion.content, stored_at=now))
    connection.execute(
        update(recordings)
        .where(_R.id == recording_id)
        .values(companion=digest, companion_fault=companion.fault, fence=_R.fence + 1, worker=None, lease_until=None)
    )
    return True


def companion_of(connection: Connection, digest: str | None, fault: CompanionFault | None) -> Companion | None:
    """The PDF that is kept under these two columns of a recording."""
    if digest is None:
        return Companion(content=None, fault=fault) if fault else None
    content = connection.execute(select(_O.content).where(_O.sha256 == digest)).scalar_one()
    return Companion(content=content, fault=fault)


def companion_told(companion: Companion) -> dict[str, object]:
    """What the audit log keeps of it."""
    told: dict[str, object] = {"companion_sha256": companion.sha256, "companion_bytes": len(companion.content or b"")}
    return told | ({"companion_fault": companion.fault.value} if companion.fault else {})
