"""One gateway at a time on one state folder."""

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gateway.errors import StoreError


@contextmanager
def only_one(state: Path) -> Iterator[None]:
    """Hold the state folder for this process. Raises StoreError when another process holds it.

    The kernel drops the lock with the process, however it ends, so whoever gets it knows that every lease in
    the store is left over from a process that is gone.
    """
    with (state / "lock").open("a") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise StoreError(
                f"another bp-gateway is already working on {state}; it will take the files up, "
                "or stop it first (systemctl stop bp-gateway)"
            ) from None
        yield
