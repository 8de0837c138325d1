"""The parts of a workbook's zip archive, refused before anything is unpacked that could fill the memory."""

import io
import re
import zipfile
import zlib
from collections.abc import Mapping

from gateway.model import HoldReason
from gateway.read.held import Held

MOST_PARTS = 500
MOST_UNPACKED = 16 * 1024 * 1024
MOST_RATIO = 200
"""Sheets shrink to a tenth or a thirtieth; an archive that swells two hundredfold was made to do harm (own rule)."""
_SMALL = 64 * 1024

_ENCRYPTED = 0x1
_DECLARATION = re.compile(rb"<\s*!\s*(DOCTYPE|ENTITY)", re.IGNORECASE)


def is_archive(content: bytes) -> bool:
    """Does it begin as a zip archive does?"""
    return content.startswith(b"PK\x03\x04")


def parts(content: bytes) -> Mapping[str, bytes]:
    """Every part by its name. Raises Held for a broken, locked or hostile archive."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            entries = archive.infolist()
            _refuse_sizes(entries)
            return {entry.filename: _unpacked(archive, entry) for entry in entries if not entry.is_dir()}
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError, ValueError, OSError):
        raise Held(HoldReason.FILE_UNREADABLE, "the workbook is damaged or locked") from None


def _refuse_sizes(entries: list[zipfile.ZipInfo]) -> None:
    if len(entries) > MOST_PARTS or len({entry.filename for entry in entries}) != len(entries):
        raise Held(HoldReason.FILE_HOSTILE, "the workbook has too many parts, or one twice")
    if any(entry.flag_bits & _ENCRYPTED for entry in entries):
        raise Held(HoldReason.FILE_UNREADABLE, "the workbook is locked with a password")
    if sum(entry.file_size for entry in entries) > MOST_UNPACKED:
        raise Held(HoldReason.FILE_HOSTILE, f"the workbook unpacks to more than {MOST_UNPACKED} bytes")
    for entry in entries:
        if entry.file_size > max(_SMALL, MOST_RATIO * entry.compress_size):
            raise Held(HoldReason.FILE_HOSTILE, "a part of the workbook swells out of all measure")


def _unpacked(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    """One part. The stated size is not trusted: no more than that is unpacked."""
    with archive.open(entry) as part:
        content = part.read(entry.file_size + 1)
    if len(content) != entry.file_size:
        raise Held(HoldReason.FILE_HOSTILE, "a part of the workbook is larger than it says")
    _refuse_declarations(content)
    return content


def _refuse_declarations(content: bytes) -> None:
    """No part of a workbook declares a document type; zero bytes are taken out to see it in UTF-16 too."""
    if _DECLARATION.search(content.replace(b"\0", b"")):
        raise Held(HoldReason.FILE_HOSTILE, "a part of the workbook declares a document type")
