"""Where an SQLite store may stand, and which journal is safe there."""

import os
from pathlib import Path

from gateway.errors import StoreError

_SHARES = frozenset(
    {"nfs", "nfs4", "cifs", "smb2", "smb3", "smbfs", "afs", "ncpfs", "ceph", "glusterfs", "lustre", "gpfs",
     "fuse.sshfs", "fuse.glusterfs", "fuse.rclone", "fuse.s3fs", "davfs", "fuse.davfs2"}
)  # fmt: skip
_WAL_SAFE = (3, 51, 3)
"""Older versions have a fault when a write-ahead log is reset under several connections (SQLite release notes)."""


def journal_mode(sqlite_version: tuple[int, ...]) -> str:
    """WAL where it is safe, else a rollback journal (TRUNCATE: one directory write fewer than DELETE)."""
    return "wal" if sqlite_version >= _WAL_SAFE else "truncate"


def prepare(path: Path) -> Path:
    """Make folder (0700) and file (0600) where they are missing; the file's mode is tightened where it is not.

    A folder that was there before keeps its mode: it may hold other things. Raises StoreError for a network
    share (its locks cannot be trusted) and where the place cannot be written.
    """
    path = path.expanduser().absolute()
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        kind = filesystem(path.parent.resolve(), _mounts())
        if kind in _SHARES:
            raise StoreError(
                f"The store must not stand on a network share ({kind}): {path.parent}. Choose a local disk."
            )
        os.close(os.open(path, os.O_CREAT | os.O_RDWR | os.O_CLOEXEC, 0o600))
        path.chmod(0o600)
    except OSError as error:
        raise StoreError(f"The store cannot be made or written at {path}: {error.strerror}.") from error
    return path


def filesystem(folder: Path, mounts: str) -> str:
    """The type of file system that `folder` lies on, by the text of /proc/self/mounts; "" where it is not told."""
    best, kind = -1, ""
    for line in mounts.splitlines():
        fields = line.split(" ")
        if len(fields) < 3:
            continue
        point = Path(fields[1].encode("ascii", "replace").decode("unicode_escape"))
        depth = len(point.parts)
        if folder.is_relative_to(point) and depth >= best:
            best, kind = depth, fields[2]
    return kind


def _mounts() -> str:
    try:
        return Path("/proc/self/mounts").read_text("utf-8", "replace")
    except OSError:
        return ""
