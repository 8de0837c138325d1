"""Secrets are read at the moment of use, and stand in no settings, log or error."""

import os
import stat
from pathlib import Path

from gateway.deliver.stopped import Stopped, for_it


def read_secret(path: Path) -> bytes:
    """Content of a secret's file, which nobody but its owner may read. Raises Stopped, in words for IT."""
    try:
        with path.open("rb") as file:
            if stat.S_IMODE(os.fstat(file.fileno()).st_mode) & 0o077:
                raise Stopped(for_it(f"others can read the secret in {path}; type: chmod 600 {path}"))
            return file.read(65536)
    except OSError as error:
        raise Stopped(for_it(f"cannot read {path} ({error.strerror})")) from None
