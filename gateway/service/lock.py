"""One gateway at a time on one state folder."""

import fcntl
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gateway.errors import StoreError


@contextmanager
def only_one(state: Path) -> Iterator[str]:
    """Hold the state folder for this process; gives the folder's own id. StoreError when another process holds it.

    The kernel drops the lock with the process, however it ends, so whoever gets it knows that every lease that was
    given to this folder's gateway is left over from a process that is gone.
    """
    with (state / "lock").open("a+", encoding="ascii") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise StoreError(
                f"another bp-gateway is already working on {state}; it will take the files up, "
                "or stop it first (systemctl stop bp-gateway). Each node needs a state folder of its own"
            ) from None
        lock.seek(0)
        node_id = lock.read(32)
        if len(node_id) < 32:
            node_id = uuid.uuid4().hex
            lock.truncate(0)
            lock.write(node_id)
            lock.flush()
        yield node_id
