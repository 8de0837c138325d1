"""An inbox that other nodes may watch too: which one it is, and which of us has a file in hand."""

import contextlib
import os
import uuid
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

from gateway.errors import StoreError
from gateway.store import Store
from gateway.watch import Arrival

ID_FILE = ".bp-gateway-inbox"
"""In the inbox, so that every node that sees the folder knows it for the same one; the watcher passes over it."""
FILE_LEASE = timedelta(minutes=5)


class Sharing:
    """One node's part in a shared inbox. The store knows who has which file, until a lease ends by its clock."""

    def __init__(self, folder: Path, worker: str, store: Store) -> None:
        self._folder = folder
        self._worker = worker
        self._store = store

    @property
    def inbox(self) -> str:
        """The folder's own id, made by the node that looks first. Read each time, as a share may be mounted late.

        Raises OSError where the folder cannot be used.
        """
        path = self._folder / ID_FILE
        with contextlib.suppress(FileExistsError):
            fresh = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_NOFOLLOW | os.O_CLOEXEC, 0o644)
            with os.fdopen(fresh, "w", encoding="ascii") as file:
                file.write(uuid.uuid4().hex)
        return path.read_text("ascii", "replace")[:32]

    def mine(self, arrival: Arrival) -> bool:
        """Take the file in hand; False while another node has it, which is no fault."""
        return self._store.claim_file(self._mark(arrival), self._worker, FILE_LEASE)

    def let_go(self, arrival: Arrival) -> None:
        """The file is dealt with. Where this cannot be noted now, the lease ends by itself."""
        with contextlib.suppress(StoreError, OSError):
            self._store.file_done(self._mark(arrival), self._worker)

    def _mark(self, arrival: Arrival) -> str:
        """The same on every node: device and inode may differ between mounts."""
        name = os.fsencode(arrival.path.name)
        facts = f"{self.inbox} {arrival.size} {arrival.mark.changed} ".encode()
        return sha256(facts + name).hexdigest()[:32]
