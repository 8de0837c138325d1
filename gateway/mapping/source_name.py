"""What the name of a file says: a pattern of literal text, `{Facts}` and `*`, matched in one pass from the left.

A fact takes at least one sign and never holds any of the literal texts of the pattern, so that a name can be split in
one way only. `*` stands for anything, which is not looked at. Capitals make no difference in the literal texts.
"""

import re
from functools import lru_cache
from typing import Annotated

from pydantic import AfterValidator

MOST_NAME = 255
"""signs that a file name can have on common file systems"""
_TOKEN = re.compile(r"\{([^{}*]{1,60})\}|(\*)|([^{}*]+)|(.)", re.DOTALL)
_SMALL = str.maketrans("ABCDEFGHIJKLMNOPQRSTUVWXYZ", "abcdefghijklmnopqrstuvwxyz")

Token = tuple[str, str]
"""`fact` and its name, `any` and nothing, `text` and the literal text."""


@lru_cache(maxsize=256)
def tokens(pattern: str) -> tuple[Token, ...]:
    """The pattern in parts. Raises ValueError for one that could fit a name in two ways, or names a fact twice."""
    found: list[Token] = []
    for fact, anything, text, odd in _TOKEN.findall(pattern):
        if odd:
            raise ValueError("a brace stands alone; write {Fact name}")
        token = ("fact", fact.strip()) if fact else ("any", "") if anything else ("text", text)
        if token[0] != "text" and found and found[-1][0] != "text":
            raise ValueError("between two facts, or a fact and *, there must be a text that parts them")
        found.append(token)
    names = [name.casefold() for kind, name in found if kind == "fact"]
    if len(set(names)) != len(names) or "" in names:
        raise ValueError("a fact stands twice in the pattern or has no name")
    if not names:
        raise ValueError("the pattern names no {Fact}; to recognise a file by its name alone use signs.name")
    return tuple(found)


def facts(pattern: str) -> tuple[str, ...]:
    """Names of the facts in the pattern."""
    return tuple(name for kind, name in tokens(pattern) if kind == "fact")


def taken(pattern: str, name: str) -> dict[str, str] | None:
    """Facts of a file name by their names; None when the name does not fit."""
    parts = tokens(pattern)
    small = name.translate(_SMALL)
    if len(name) > MOST_NAME:
        return None
    at = 0
    found: dict[str, str] = {}
    for number, (kind, text) in enumerate(parts):
        if kind == "text":
            if not small.startswith(text.translate(_SMALL), at):
                return None
            at += len(text)
            continue
        end = _end(parts, number, small, at)
        if end < at or (kind == "fact" and end == at):
            return None
        if kind == "fact":
            found[text] = name[at:end].strip()
        at = end
    return found if at == len(name) and _apart(parts, found) else None


def _end(parts: tuple[Token, ...], number: int, small: str, at: int) -> int:
    """Where a fact or * ends: before the first literal text that follows, -1 when it is not there."""
    if number + 1 == len(parts):
        return len(small)
    text = parts[number + 1][1].translate(_SMALL)
    last = parts[number][0] == "any" and number + 2 == len(parts)
    return small.rfind(text, at) if last else small.find(text, at)


def _apart(parts: tuple[Token, ...], found: dict[str, str]) -> bool:
    texts = [text.translate(_SMALL) for kind, text in parts if kind == "text"]
    return all(value and not any(text in value.translate(_SMALL) for text in texts) for value in found.values())


def _checked(pattern: str) -> str:
    tokens(pattern)
    return pattern


NamePattern = Annotated[str, AfterValidator(_checked)]
