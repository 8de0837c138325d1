"""Names compared as the same name is written in different places: accents, case, hyphens, letters written out."""

import unicodedata

_WRITTEN_OUT = {
    "ä": "ae",
    "å": "aa",
    "æ": "ae",
    "ð": "d",
    "đ": "d",
    "ħ": "h",
    "ı": "i",
    "ł": "l",
    "ö": "oe",
    "ø": "oe",
    "œ": "oe",
    "þ": "th",
    "ü": "ue",
}
"""as travel documents write them (ICAO Doc 9303 part 3, section 6; from memory)"""
_LEFT_BARE = {"æ": "a", "ø": "o", "œ": "o", "ı": "i", "ł": "l", "đ": "d", "ð": "d", "ħ": "h", "þ": "t"}
"""as they look to somebody whose keyboard lacks them; common practice"""


def forms(name: str) -> frozenset[str]:
    """The ways in which this name may stand elsewhere; empty for one without letters."""
    letters = unicodedata.normalize("NFC", name).casefold()
    out = "".join(_WRITTEN_OUT.get(letter, letter) for letter in letters)
    bare = "".join(_LEFT_BARE.get(letter, letter) for letter in letters)
    return frozenset({_plain(out), _plain(bare)} - {""})


def words(name: str) -> frozenset[str]:
    """Every form of every word of the name; hyphens part words."""
    return frozenset(form for part in name.replace("-", " ").split() for form in forms(part))


def _plain(name: str) -> str:
    letters = unicodedata.normalize("NFKD", name)
    return "".join(letter for letter in letters if letter.isalnum())
