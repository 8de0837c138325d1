"""Bytes -> text for a draft: as the reader does it, else by a code page that a person must confirm."""

from dataclasses import dataclass

from gateway.drafting import widths
from gateway.drafting.guess import NoDraft
from gateway.drafting.table import find
from gateway.drafting.words import Words
from gateway.read.held import Held
from gateway.read.text import decode

CODE_PAGES = ("windows-1252", "windows-1250", "iso-8859-15", "iso-8859-2", "cp850")
"""of the languages whose words are known; the one that makes the most header words readable is proposed"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoded:
    """A text with the encoding used. `code_page` is set where it is only a guess."""

    text: str
    encoding: str
    code_page: str | None = None


def decoded(content: bytes, words: Words) -> Decoded | NoDraft:
    """The text of a file."""
    try:
        text, encoding = decode(content, None)
    except Held as held:
        if "not UTF-8" not in held.hold.detail:
            return NoDraft(f"{held.hold.sentence} {held.hold.action}")
        return _by_code_page(content, words)
    return Decoded(text=text, encoding=encoding)


def _by_code_page(content: bytes, words: Words) -> Decoded | NoDraft:
    best: tuple[int, Decoded] | None = None
    for page in CODE_PAGES:
        try:
            text, _ = decode(content, page)
        except Held:
            continue
        ruled = widths.find(text, words)
        tables = [each for each in (find(text, words), ruled.table if ruled else None) if each]
        known = max((len(table.columns) for table in tables), default=0)
        if best is None or known > best[0]:
            best = (known, Decoded(text=text, encoding=page, code_page=page))
    return best[1] if best else NoDraft("The letters of the file fit no known code page; export it again as UTF-8.")
