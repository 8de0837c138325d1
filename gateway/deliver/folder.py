"""A folder as destination: one file for each recording, there whole or not at all.

A bundle is written beside its place, forced to the disk, and renamed; the report, where wanted, before it, so that
whoever sees the bundle finds the report. The name is the recording's own opaque identifier, so writing again changes
nothing. What another program put under that name, or changed, is never overwritten.
"""

import contextlib
import os
from collections.abc import Callable, Mapping, Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any

from gateway import fhir
from gateway.deliver.checking import Checked
from gateway.deliver.filing import Faults, Note
from gateway.deliver.server import nobody_listens
from gateway.fhir.handing import bundle_for, name_of, prints
from gateway.model import Answer, Delivered, Filed, Hold, HoldReason, Identifier, Rejected, TryLater, Way
from gateway.settings.handing import FolderDestination

UNFINISHED = ".part"
MODE = 0o640


class Folder:
    """One folder; safe to use from several threads."""

    def __init__(self, destination: FolderDestination, faults: Faults) -> None:
        """`faults` checks each bundle once more just before it is written."""
        self.destination = destination
        self._faults = faults

    def file(
        self,
        parcel: fhir.Parcel,
        way: Way | None,  # noqa: ARG002  (there is one way)
        ledger: Mapping[str, Filed],
        note: Note,
        uncertain: bool = False,
        waived: frozenset[str] = frozenset(),  # noqa: ARG002  (no rule here can be waived)
        found: Callable[[fhir.PatientLink], None] = nobody_listens,
        **_: Any,
    ) -> Answer:
        """Write the bundle, and read it back. As `Server.file`; never raises for anything that the disk does."""
        link = fhir.PatientLink(identifier=self._number(parcel))
        found(link)
        bundle = bundle_for(parcel.resources, link)
        if faults := self._faults(bundle):
            hold = Hold(reason=HoldReason.CONTENT_FAULT, detail=f"{len(faults)} faults", findings=faults)
            return Rejected(hold=hold)
        before = sum(fhir.is_filed(resource, ledger) for resource in parcel.resources)
        if before < len(parcel.resources):
            try:
                trouble = self._put(parcel, fhir.written(bundle), ledger)
            except OSError as error:
                return TryLater(why=f"the folder cannot be written ({error.strerror})", unreachable=True)
            if trouble:
                return trouble
            note(Way.PUT, _rows(parcel.resources, fhir.written(bundle)))
        return Delivered(patient=None, count=len(parcel.resources), unchanged=before, uncertain_before=uncertain)

    def check(self) -> tuple[Checked, ...]:
        """Is the folder there, and may we write it? Writes nothing."""
        folder, name = self.destination.folder, self.destination.name
        good = folder.is_dir() and os.access(folder, os.W_OK | os.X_OK)
        said = f"{folder}" if good else f"{folder}: make this folder, and let this user write it"
        return (Checked(what=f"{name}: folder", good=good, said=said, unreachable=not good),)

    def _number(self, parcel: fhir.Parcel) -> Identifier | None:
        number = parcel.person.identifier
        if number is None:
            return None
        return Identifier(self.destination.identifier_systems.get(number.system, number.system), number.value)

    def _put(self, parcel: fhir.Parcel, content: bytes, ledger: Mapping[str, Filed]) -> Answer | None:
        """Put the files there; None when they are. Raises OSError."""
        folder, name = self.destination.folder, name_of(parcel.resources)
        ours = {row.version for row in ledger.values()}
        target = folder / f"{name}.json"
        held = _content(target)
        if held is not None and held != content and sha256(held).hexdigest() not in ours:
            detail = "a file of the recording's name is there that we did not write, or that was changed"
            return Rejected(hold=Hold(reason=HoldReason.RECORD_CONFLICT, detail=detail))
        if self.destination.report_beside:
            for number, printed in enumerate(prints(parcel.resources)):
                _write(folder / (f"{name}.pdf" if number == 0 else f"{name}-{number + 1}.pdf"), printed)
        if held != content:
            _write(target, content)
        if _content(target) not in (content, None):  # None: it was fetched already
            return TryLater(why="what was written reads back differently", outcome_unknown=True)
        return None


def _rows(resources: Sequence[fhir.Resource], content: bytes) -> list[Filed]:
    version = sha256(content).hexdigest()
    return [fhir.filed_as(resource, resource.id, version) for resource in resources]


def _content(path: Path) -> bytes | None:
    """The bytes of a plain file, None where there is none. A link is not followed. Raises OSError."""
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    except FileNotFoundError:
        return None
    with os.fdopen(handle, "rb") as opened:
        return opened.read()


def _write(target: Path, content: bytes) -> None:
    """There whole or not at all, also after a kill or a power cut. Raises OSError."""
    unfinished = target.with_name(f".{target.name}{UNFINISHED}")
    with contextlib.suppress(FileNotFoundError):
        unfinished.unlink()  # of an attempt that was cut off
    handle = os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW, MODE)
    with os.fdopen(handle, "wb") as opened:
        opened.write(content)
        opened.flush()
        os.fsync(opened.fileno())
    unfinished.replace(target)
    folder = os.open(target.parent, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
