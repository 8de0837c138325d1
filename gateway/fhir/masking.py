"""Take a person's words out of what a server says, however the server writes them.

Letters are compared as their bare forms: case, accents (composed, decomposed or dropped) and the letters that are
written with another sign in other alphabets do not matter. Between the digits of a number or date may stand blanks,
hyphens, dots, slashes.
"""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence

PERSON = "[person]"
BETWEEN = r"[\s\-\u2010-\u2015'\u2018\u2019]+"
"""what separates the words of a name"""
GAP = r"[\s\-.,/_:\u2010-\u2015\u00b7]*"
"""what groups the digits of a number"""
LOST = r"[?\ufffd]?"
"""what an unwritable letter becomes, or nothing at all"""
BARE = {
    "\u00f8": "o", "\u0142": "l", "\u0111": "d", "\u00f0": "d", "\u0131": "i", "\u00e6": "ae", "\u0153": "oe",
    "\u00fe": "th",
}  # fmt: skip
"""letters that Unicode does not take apart, as they are written without their own sign (common practice)"""
UMLAUTS = {"\u00e4": "ae", "\u00f6": "oe", "\u00fc": "ue", "\u00f8": "oe", "\u00e5": "aa"}
"""second ways of writing a letter (common practice in German and Scandinavian names)"""


def mask(text: str, words: Sequence[str]) -> str:
    """The text with every one of `words` (names, numbers, dates), and each word of a name, replaced."""
    pattern = _pattern(words)
    if pattern is None:
        return text
    plain, places = _bare_with_places(text)
    pieces, done = [], 0
    for found in pattern.finditer(plain):
        if found.start() == found.end():
            continue
        start, end = places[found.start()], places[found.end() - 1] + 1
        while end < len(text) and unicodedata.combining(text[end]):
            end += 1
        pieces += [text[done:start], PERSON] if start >= done else []
        done = max(done, end)
    return "".join(pieces) + text[done:]


def _pattern(words: Sequence[str]) -> re.Pattern[str] | None:
    wanted = {unicodedata.normalize("NFC", text) for text in words if text.strip()}
    wanted |= {word for text in wanted for word in re.split(BETWEEN, text) if sum(map(str.isalpha, word)) >= 2}
    patterns = [_written(text) for text in sorted(wanted, key=lambda text: (-len(text), text))]
    return re.compile("|".join(patterns)) if patterns else None


def _written(text: str) -> str:
    """The ways in which a text is written."""
    if any(map(str.isdigit, text)):
        return GAP.join(re.escape(letter) for letter in _bare(text) if not re.fullmatch(GAP, letter)) or _exact(text)
    pieces = [piece for piece in re.split(BETWEEN, text) if piece]
    whole = BETWEEN.join(_spelt(piece) for piece in pieces) or _exact(text)
    # a very short name is also a part of other words
    return rf"(?<![^\W\d_]){whole}(?![^\W\d_])" if len(text) <= 3 else whole


def _exact(text: str) -> str:
    return re.escape(_bare(text)) or "(?!)"


def _spelt(word: str) -> str:
    return "".join(_letter(letter) for letter in word.lower())


def _letter(letter: str) -> str:
    """A letter in all its ways of writing; one with an accent may also have been lost."""
    bare = _bare(letter)
    if bare == letter:
        return re.escape(letter)
    ways = [way for way in (UMLAUTS.get(letter), bare) if way]
    return f"(?:{'|'.join(map(re.escape, ways))}|{LOST})"


def _bare(text: str) -> str:
    return "".join(_bare_letters(text))


def _bare_letters(text: Iterable[str]) -> Iterator[str]:
    for letter in text:
        parts = unicodedata.normalize("NFKD", letter.casefold())
        yield "".join(BARE.get(part, part) for part in parts if not unicodedata.combining(part))


def _bare_with_places(text: str) -> tuple[str, list[int]]:
    """The bare text, and for each of its letters the place in the text that it comes from."""
    bare = list(_bare_letters(text))
    return "".join(bare), [place for place, letters in enumerate(bare) for _ in letters]
