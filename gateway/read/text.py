"""Bytes -> text. A byte-order mark decides, else strict UTF-8, else the code page of the map. No byte is dropped."""

import codecs
import re

from gateway.model import HoldReason
from gateway.read.held import Held

# UTF-32 before UTF-16: their little-endian marks begin alike
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_GLANCE = 65536


def decode(content: bytes, code_page: str | None) -> tuple[str, str]:
    """Text and the encoding used. Raises Held when the letters cannot be known for certain."""
    marked = _marked(content)
    if marked:
        mark, encoding = marked
        return _checked(_strictly(content[len(mark) :], encoding), encoding)
    try:
        return _checked(content.decode("utf-8"), "utf-8")
    except UnicodeDecodeError as error:
        if code_page is None:
            raise Held(HoldReason.FILE_ENCODING, f"not UTF-8 at byte {error.start + 1}") from None
    return _checked(_strictly(content, code_page), code_page)


def glance(content: bytes, code_page: str | None) -> str:
    """The beginning of the file as text, unreadable letters replaced: good enough to recognise it, never to read."""
    start = content[:_GLANCE]
    marked = _marked(content)
    if marked:
        mark, encoding = marked
        return start[len(mark) :].decode(encoding, errors="replace")
    try:
        codecs.getincrementaldecoder("utf-8")().decode(start)
    except UnicodeDecodeError:
        return start.decode(code_page or "latin-1", errors="replace")
    return start.decode("utf-8", errors="replace")


def looks_wide(content: bytes) -> bool:
    """Do zero bytes stand where 16- or 32-bit text without a byte-order mark has them?"""
    start = content[:4096]
    zeros = max(start[0::2].count(0), start[1::2].count(0))
    return _marked(content) is None and 5 * zeros > 2 * len(start)


def _marked(content: bytes) -> tuple[bytes, str] | None:
    return next(((mark, encoding) for mark, encoding in _MARKS if content.startswith(mark)), None)


def _strictly(content: bytes, encoding: str) -> str:
    try:
        return content.decode(encoding)
    except UnicodeDecodeError as error:
        raise Held(HoldReason.FILE_ENCODING, f"not {encoding} at byte {error.start + 1}") from None


def _checked(text: str, encoding: str) -> tuple[str, str]:
    found = _CONTROL.search(text)
    if found:
        line = text.count("\n", 0, found.start()) + 1
        raise Held(HoldReason.FILE_ENCODING, f"line {line} holds a control character; text never does")
    return text, encoding
