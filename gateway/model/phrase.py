"""A sentence that can be said in another language, because it still knows how it was put together."""

from collections.abc import Iterable, Mapping


class Phrase(str):
    """English text that keeps its `template` and the `parts` in its gaps; it is the text wherever a text is wanted.

    The template is the key under which a language file holds its own wording. Parts may be phrases, numbers, dates
    or plain text. Without parts the template is the text itself, braces and all.
    """

    __slots__ = ("parts", "template")
    template: str
    parts: Mapping[str, object]

    def __new__(cls, template: str, /, **parts: object) -> "Phrase":
        """The template filled in."""
        found = super().__new__(cls, template.format(**parts) if parts else template)
        found.template, found.parts = template, parts
        return found

    def __getnewargs_ex__(self) -> tuple[tuple[str], dict[str, object]]:
        return (self.template,), dict(self.parts)


def joined(separator: str, phrases: Iterable[str]) -> Phrase:
    """Several phrases as one, each still sayable."""
    parts = {f"part{at}": phrase for at, phrase in enumerate(phrases)}
    return Phrase(separator.join(f"{{{name}}}" for name in parts), **parts) if parts else Phrase("")
