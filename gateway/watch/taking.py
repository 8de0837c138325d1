"""Read a finished file safely, and put it away without ever losing or overwriting one."""

import errno
import os
import shutil
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import count
from pathlib import Path

from gateway.watch.listing import Arrival, Mark

LONGEST_NAME = 200
"""bytes; file systems take 255, and a number may have to be added"""
READ = os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC
"""follow no link, and do not wait for a pipe that took the file's place"""


class Refusal(StrEnum):
    """Why a file was not read."""

    TOO_LARGE = "too-large"
    CHANGED = "changed"
    """somebody wrote to it meanwhile; it will be offered again"""
    GONE = "gone"
    NOT_A_FILE = "not-a-file"
    UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True)
class Refused:
    """A file that was not read, and why. `said` is the system's own word for it, without any path."""

    why: Refusal
    said: str = ""


def take(arrival: Arrival, most_bytes: int) -> bytes | Refused:
    """The whole content of a finished file, if it is still what it was when it settled. Follows no link."""
    try:
        descriptor = os.open(arrival.path, READ)
    except OSError as error:
        return _refused(error)
    try:
        with os.fdopen(descriptor, "rb") as opened:
            before = os.fstat(descriptor)
            if not stat.S_ISREG(before.st_mode):
                return Refused(Refusal.NOT_A_FILE)
            if Mark.of(before) != arrival.mark:
                return Refused(Refusal.CHANGED)
            content = opened.read(most_bytes + 1)
            if Mark.of(os.fstat(descriptor)) != arrival.mark:
                return Refused(Refusal.CHANGED)
    except OSError as error:
        return _refused(error)
    if len(content) > most_bytes:
        return Refused(Refusal.TOO_LARGE)
    return content if len(content) == arrival.size else Refused(Refusal.CHANGED)


def put_away(file: Path | Arrival, folder: Path, name: str) -> Path | None:
    """Move a file into `folder` under `name`, or under a name with a number where that is taken; return its new path.

    Given an Arrival, it moves only that very file: when another was written under its name since, that one stays in
    the inbox, and None is returned. Raises OSError when the file cannot be moved, ValueError for an unfit name.
    """
    if name in ("", ".", "..") or name != Path(name).name or "\0" in name:
        raise ValueError("a name within the folder is needed")
    path = file.path if isinstance(file, Arrival) else file
    if isinstance(file, Arrival) and _mark(path) != file.mark:
        return None
    target = _reserved(folder, name)
    try:
        _move(path, target)
    except OSError:
        target.unlink(missing_ok=True)
        raise
    if isinstance(file, Arrival) and not _is_same(target, file.mark):
        _move(target, _reserved(path.parent, path.name))  # it was exchanged in this very moment: back with it
        return None
    _sync(folder)
    return target


def _move(source: Path, target: Path) -> None:
    """Atomic on one file system; else copied beside the target, made durable, and only then put in its place."""
    try:
        source.replace(target)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        copy = target.with_name(f".{target.name}.part")
        with os.fdopen(os.open(source, READ), "rb") as read, copy.open("wb") as written:
            shutil.copyfileobj(read, written)
            written.flush()
            os.fsync(written.fileno())
        shutil.copystat(source, copy, follow_symlinks=False)
        copy.replace(target)
        _sync(target.parent)
        source.unlink()


def _reserved(folder: Path, name: str) -> Path:
    """A new empty file of ours, so that nobody else can take the name before the move."""
    for candidate in _names(name):
        target = folder / candidate
        try:
            os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_NOFOLLOW | os.O_CLOEXEC, 0o640))
        except FileExistsError:
            continue
        return target
    raise AssertionError("names never run out")


def _names(name: str) -> Iterator[str]:
    path = Path(name)
    stem, room = path.stem, LONGEST_NAME - len(os.fsencode(path.suffix))
    while stem and len(os.fsencode(stem)) > room:  # a name need not be UTF-8, and no letter is cut in two
        stem = stem[:-1]
    yield f"{stem}{path.suffix}"
    for number in count(2):
        yield f"{stem}-{number}{path.suffix}"


def _is_same(moved: Path, mark: Mark) -> bool:
    """A copy to another file system has another inode; size and time of change are kept there."""
    now = _mark(moved)
    if now is None or now.device == mark.device:
        return now == mark
    return (now.size, now.changed) == (mark.size, mark.changed)


def _mark(path: Path) -> Mark | None:
    try:
        return Mark.of(path.stat(follow_symlinks=False))
    except FileNotFoundError:
        return None


def _refused(error: OSError) -> Refused:
    known = {errno.ENOENT: Refusal.GONE, errno.ELOOP: Refusal.NOT_A_FILE}
    return Refused(known.get(error.errno or 0, Refusal.UNREADABLE), error.strerror or "")


def _sync(folder: Path) -> None:
    """Make the new name durable, so that a power cut cannot bring back the old state."""
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
