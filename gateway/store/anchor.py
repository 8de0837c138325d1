"""Signed heads: kept in the store, and appended to a file outside it."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from sqlalchemy import func, insert, select

from gateway.audit import Head, TornLine, parse_heads, sign
from gateway.errors import StoreError
from gateway.store.database import Part
from gateway.store.tables import audit_head, heads, meta

_AT_ONCE = 500
_TAIL_BYTES = 8192
"""Holds several heads; a line has about 300 bytes."""


class Anchors(Part):
    """The store's side of signed heads."""

    def anchor(self, outside: Path, key: Ed25519PrivateKey, now: datetime) -> Head | None:
        """Sign the log's present end, keep the head in the store and append it to the file `outside`.

        None where the file ends with this head already, or the log is empty. The file is locked meanwhile, so
        its heads always rise, whoever writes them. It belongs on another disk or machine than the store.
        Raises StoreError where the file cannot be written.
        """
        try:
            with _locked(outside) as file:
                with self._database.writing() as connection:
                    end = connection.execute(select(audit_head.c.seq, audit_head.c.hash).with_for_update()).one()
                    if end.seq in (0, _last_seq(file)):
                        return None
                    head = sign(end.seq, end.hash, now, key)
                    connection.execute(insert(heads).values(line=head.line))
                _add_line(file, head.line)
                return head
        except OSError as error:
            raise StoreError(f"The audit heads cannot be written to {outside}: {error.strerror}.") from error

    def signer(self, fingerprint: str) -> str:
        """The fingerprint of the key that signs this log; the first that is told stays."""
        with self._database.writing() as connection:
            named = select(meta.c.value).where(meta.c.name == "audit_key")
            first: str | None = connection.execute(named).scalar_one_or_none()
            if first is None:
                connection.execute(insert(meta).values(name="audit_key", value=fingerprint))
        return first or fingerprint

    def heads(self) -> Iterator[Head | TornLine]:
        """The signed heads kept in the store up to now. Ask before `audit_entries`, so that none is newer."""
        with self._database.reading() as connection:
            newest = connection.execute(select(func.coalesce(func.max(heads.c.number), 0))).scalar_one()
        return self._heads(newest)

    def _heads(self, newest: int) -> Iterator[Head | TornLine]:
        last = 0
        while last < newest:
            with self._database.reading() as connection:
                rows = connection.execute(
                    select(heads)
                    .where(heads.c.number > last, heads.c.number <= newest)
                    .order_by(heads.c.number)
                    .limit(_AT_ONCE)
                ).all()
            yield from parse_heads(row.line for row in rows)
            last = rows[-1].number if rows else newest


def outside_heads(path: Path) -> Iterator[Head | TornLine]:
    """The heads of a file outside the store, as far as it reaches now. Ask before `audit_entries`.

    Raises StoreError where the file cannot be read.
    """
    try:
        size = path.stat().st_size
        file = path.open("rb")
    except OSError as error:
        raise StoreError(f"The audit heads cannot be read from {path}: {error.strerror}.") from error
    return parse_heads(_lines(file, size))


def _lines(file: BinaryIO, size: int) -> Iterator[str]:
    with file:
        while size > 0 and (line := file.readline(min(size, _TAIL_BYTES))):
            size -= len(line)
            yield line.decode("utf-8", "replace")


@contextmanager
def _locked(path: Path) -> Iterator[BinaryIO]:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, 0o600)
    with os.fdopen(descriptor, "r+b") as file:
        fcntl.flock(file, fcntl.LOCK_EX)  # let go when the file is closed
        yield file


def _last_seq(file: BinaryIO) -> int | None:
    end = file.seek(0, os.SEEK_END)
    file.seek(max(0, end - _TAIL_BYTES))
    found = list(parse_heads(file.read().decode("utf-8", "replace").splitlines()))
    return next((head.seq for head in reversed(found) if isinstance(head, Head)), None)


def _add_line(file: BinaryIO, line: str) -> None:
    """Append one line durably. A line that a power cut left unfinished is closed first, not glued to."""
    end = file.seek(0, os.SEEK_END)
    if end:
        file.seek(end - 1)
        if file.read(1) != b"\n":
            file.write(b"\n")
    file.write(line.encode("utf-8") + b"\n")
    file.flush()
    os.fsync(file.fileno())
