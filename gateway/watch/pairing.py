"""Which finished file goes with which PDF. Pure: names and times in, pairs out; all times are monotonic seconds.

An export and a PDF of the same stem belong together when they lie in the inbox at the same time; which of the two
comes first does not matter. Each waits for the other, so long as the site says, and then goes alone. Where more than
two files share a stem, nobody can tell which belong together, and all of them go alone.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath

from gateway.watch.settling import Seen


@dataclass(frozen=True, slots=True, kw_only=True)
class Paired:
    """`go`: files to be handed out now, each with its PDF or None. `later`: until when the others wait."""

    go: tuple[tuple[str, str | None], ...]
    later: Mapping[str, float]


def is_pdf(name: str) -> bool:
    """By the ending of its name."""
    return name.lower().endswith(".pdf")


def pair(known: Mapping[str, Seen], finished: Sequence[str], quiet: float, wait: float, now: float) -> Paired:
    """`known` are all files of the folder but those that cannot be opened, `finished` those of them that may go."""
    of_stem: dict[str, list[str]] = defaultdict(list)
    for name in known:
        of_stem[PurePath(name).stem].append(name)
    go: dict[str, str | None] = {}
    later: dict[str, float] = {}
    for name in finished:
        partners = [other for other in of_stem[PurePath(name).stem] if other != name]
        partner = partners[0] if len(partners) == 1 and is_pdf(partners[0]) != is_pdf(name) else None
        if partner is not None:
            until = max(known[name].rested(quiet), known[partner].rested(quiet))
        else:
            until = known[name].rested(quiet) + (0.0 if partners else wait)
        if now < until:
            later[name] = until
        elif partner is None:
            go[name] = None
        else:
            export, pdf = (partner, name) if is_pdf(name) else (name, partner)
            go[export] = pdf
    return Paired(go=tuple(go.items()), later=later)


def without(known: Mapping[str, Seen], names: Iterable[str]) -> dict[str, Seen]:
    """All files but these."""
    left_out = set(names)
    return {name: seen for name, seen in known.items() if name not in left_out}
