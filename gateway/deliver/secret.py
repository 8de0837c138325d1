"""Secrets are read at the moment of use, and stand in no settings, log or error."""

import os
import stat
from pathlib import Path

from gateway.deliver.stopped import Stopped, for_it


def read_secret(path: Path) -> bytes:
    """Content of a secret's file, which nobody but its owner may read. Raises Stopped, in words for IT."""
    try:
        with path.open("rb") as file:
            if seen_by_others(os.fstat(file.fileno())):
                raise Stopped(for_it(f"others can read the secret in {path}; type: chmod 600 {path}"))
            return file.read(65536)
    except OSError as error:
        raise Stopped(for_it(f"cannot read {path} ({error.strerror})")) from None


def seen_by_others(found: os.stat_result) -> bool:
    """May anybody but its owner read or change this file?

    systemd gives a credential to the service by an access list, which shows as a right of the group (0440, root).
    """
    mode = stat.S_IMODE(found.st_mode)
    by_systemd = (mode, found.st_uid, found.st_gid) == (0o440, 0, 0)
    return bool(mode & 0o077) and not by_systemd


def one_line(path: Path) -> str:
    """A secret that is one line of text, without its line end. Raises Stopped, in words for IT."""
    try:
        text = read_secret(path).decode().rstrip("\r\n")
    except UnicodeDecodeError:
        text = ""
    if not text or not text.isprintable():
        raise Stopped(for_it(f"the file {path} does not hold one line of text"))
    return text
