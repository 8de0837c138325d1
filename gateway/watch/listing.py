"""One full look at the inbox."""

import os
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import Self

TEMPORARY = (".part", ".partial", ".tmp", ".temp", ".crdownload", ".filepart", ".swp", ".lock", "~")
"""names under which programs write before they rename; compared in small letters"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What tells that a file is still the same and unchanged. Times are the file system's own (nanoseconds)."""

    device: int
    inode: int
    size: int
    changed: int

    @classmethod
    def of(cls, status: os.stat_result) -> Self:
        """The mark of a file with this status."""
        return cls(device=status.st_dev, inode=status.st_ino, size=status.st_size, changed=status.st_mtime_ns)


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A finished file in the inbox. `size` is in bytes; `mark` tells later whether it is still that file.
    `companion`: the PDF of the same stem, where PDFs are looked for.
    """

    path: Path
    size: int
    mark: Mark
    companion: Self | None = None

    @property
    def files(self) -> tuple[Self, ...]:
        """The export and the PDF that came with it."""
        return (self, self.companion) if self.companion else (self,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """What lies in the inbox: files by name, and how many entries are not for us.

    `ignored`: hidden or temporary names and folders. `refused`: links, pipes and the like, which are never opened,
    because they may lead out of the folder or never end.
    """

    files: dict[str, Mark]
    ignored: int
    refused: tuple[str, ...]


def look(folder: Path) -> Listing:
    """List the folder. Raises OSError when it cannot be listed, which never means that it is empty."""
    files: dict[str, Mark] = {}
    refused: list[str] = []
    ignored = 0
    with os.scandir(folder) as entries:
        for entry in entries:
            if is_temporary(entry.name):
                ignored += 1
                continue
            try:
                status = entry.stat(follow_symlinks=False)
            except FileNotFoundError:
                continue  # renamed or removed since; the next look tells
            if stat.S_ISREG(status.st_mode):
                files[entry.name] = Mark.of(status)
            elif stat.S_ISDIR(status.st_mode):
                ignored += 1
            else:
                refused.append(entry.name)
    return Listing(files=files, ignored=ignored, refused=tuple(sorted(refused)))


def is_temporary(name: str) -> bool:
    """Is this the name of a file that is still being written, or a hidden one?"""
    return name.startswith((".", "~")) or name.lower().endswith(TEMPORARY)
