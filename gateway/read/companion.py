"""Is this a PDF that can be filed? Its frame is looked at, never what it shows.

Frame by ISO 32000-1:2008, from memory: a header `%PDF-m.n` (7.5.2), the mark `%%EOF` within the last 1024 bytes
(7.5.5, and note 18 of annex H), and `Encrypt` in the trailer of an encrypted file (table 15), which is itself never
encrypted (7.5.8.2).
"""

import re

from gateway.model import Companion, CompanionFault

_HEADER = re.compile(rb"%PDF-[12]\.\d")
_END, _END_WITHIN = b"%%EOF", 1024
_ENCRYPTED = re.compile(rb"/Encrypt\s*(?:\d+\s+\d+\s+R|<<)")


def companion(content: bytes, most_bytes: int) -> Companion:
    """A PDF as it came, and what speaks against filing it. `most_bytes` is the site's limit."""
    return Companion(content=content, fault=_fault(content, most_bytes))


def looks_like_pdf(content: bytes) -> bool:
    """By its first bytes."""
    return _HEADER.match(content) is not None


def _fault(content: bytes, most_bytes: int) -> CompanionFault | None:
    if not looks_like_pdf(content):
        return CompanionFault.NOT_PDF
    if len(content) > most_bytes:
        return CompanionFault.TOO_LARGE
    if _END not in content[-_END_WITHIN:]:
        return CompanionFault.CUT_OFF
    if _ENCRYPTED.search(content):
        return CompanionFault.ENCRYPTED
    return None
