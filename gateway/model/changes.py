"""What differs between a recording as it is filed and the same recording as it is now."""

from dataclasses import dataclass
from hashlib import sha256


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """Each item is a plain line for the person who decides, with values in it: it is shown, never logged.

    `added`: readings and facts that the filed one lacks; `removed`: those that are there no more; `changed`: those
    that say something else; `classes`: statements against a limit, adequacy and review that say something else;
    `figures`: results in numbers that moved.
    """

    added: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()
    figures: tuple[str, ...] = ()
    guideline: bool = False
    """another guideline made it"""
    gone: frozenset[float] = frozenset()
    """real instants (seconds since 1970) of the readings in `removed` and `changed`"""

    @property
    def nothing(self) -> bool:
        """Both say the same."""
        return not (self.added or self.removed or self.changed or self.classes or self.figures)

    @property
    def only_less(self) -> bool:
        """Everything of it is filed already, and more: half an export."""
        return bool(self.removed) and not (self.added or self.changed)

    @property
    def needs_person(self) -> bool:
        """More than an addition: a named person sees it first."""
        return bool(self.removed or self.changed or self.classes or (self.figures and not self.added))

    @property
    def counted(self) -> str:
        """How many of each kind; no value."""
        kinds = {"added": self.added, "removed": self.removed, "changed": self.changed, "classes": self.classes}
        return ", ".join(f"{len(lines)} {kind}" for kind, lines in kinds.items() if lines) or "figures moved"

    @property
    def lines(self) -> tuple[str, ...]:
        """Everything, a line each, with a sign for its kind."""
        signs = {"+": self.added, "-": self.removed, "~": (*self.changed, *self.classes, *self.figures)}
        return tuple(f"{sign} {line}" for sign, lines in signs.items() for line in lines)

    @property
    def mark(self) -> str:
        """Twelve hex digits that stand for these very differences, so that a decision counts for what was seen."""
        lines = "\n".join("\n".join(part) + "\n" for part in (self.added, self.removed, self.changed, self.classes))
        return sha256("\n".join((lines, *self.figures)).encode("utf-8")).hexdigest()[:12]
