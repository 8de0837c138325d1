"""Is the log whole? Walks the links once, in constant memory, beside the signed heads."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from gateway.audit.chain import GENESIS, Entry, detail_holds, link_holds
from gateway.audit.heads import Head, TornLine, genuine
from gateway.audit.verdict import Broken, Fault, Verification

_MOST_SHOWN = 50
_BEGIN = Head(seq=0, hash=GENESIS, at="", key="", signature=b"")


def verify(
    entries: Iterable[Entry],
    heads: Iterable[Head | TornLine] | None,
    key: Ed25519PublicKey,
    inside: Iterable[Head | TornLine] = (),
) -> Verification:
    """Check every link, every detail that is still there, and every head.

    `entries` by rising number, from 1. `heads`: those kept outside the store, in the order of their file; None
    when that file is not at hand. `inside`: those kept in the store itself; they show a rewritten log, but not
    a cut-off one, as whoever cuts the log can cut them too.
    """
    walk = _Walk(
        outer=_Heads(iter(heads if heads is not None else ()), key),
        inner=_Heads(iter(inside), key),
    )
    for link in entries:
        walk.step(link)
    return walk.result(outside=heads is not None)


class _Faults:
    """Counts all faults, keeps the first few: a wholly rewritten log must not fill the memory."""

    def __init__(self) -> None:
        self.count = 0
        self.first: list[Broken] = []

    def add(self, fault: Fault, seq: int) -> None:
        self.count += 1
        if len(self.first) < _MOST_SHOWN:
            self.first.append(Broken(fault, seq))


class _Heads:
    """Reads heads in step with the links; `proven` is the last link that a genuine head vouches for."""

    def __init__(self, source: Iterator[Head | TornLine], key: Ed25519PublicKey) -> None:
        self._source, self._key = source, key
        self._next: Head | None = None
        self._highest = 0
        self.proven = self.torn = 0

    def compare(self, link: Head | Entry, faults: _Faults) -> None:
        """Check all heads up to this link."""
        while (head := self._peek(faults)) is not None and head.seq <= link.seq:
            if head.seq == link.seq and head.hash == link.hash:
                self.proven = max(self.proven, head.seq)
            else:
                faults.add(Fault.REWRITTEN, head.seq)
            self._next = None

    def rest(self, faults: _Faults) -> None:
        """Heads beyond the last link: the log once was longer."""
        while (head := self._peek(faults)) is not None:
            faults.add(Fault.CUT_OFF, head.seq)
            self._next = None

    def _peek(self, faults: _Faults) -> Head | None:
        while self._next is None:
            found = next(self._source, None)
            if found is None:
                return None
            if isinstance(found, TornLine):
                self.torn += 1
            elif not genuine(found, self._key):
                faults.add(Fault.HEAD_FORGED, found.seq)
            elif found.seq < self._highest:
                faults.add(Fault.HEAD_ORDER, found.seq)
            else:
                self._next, self._highest = found, found.seq
        return self._next


@dataclass(slots=True)
class _Walk:
    outer: _Heads
    inner: _Heads
    faults: _Faults = field(default_factory=_Faults)
    count: int = 0
    purged: int = 0
    last: int = 0
    previous: str = GENESIS

    def __post_init__(self) -> None:
        self._compare(_BEGIN)

    def step(self, link: Entry) -> None:
        if link.seq <= self.last:
            self.faults.add(Fault.REORDERED, link.seq)
        elif link.seq > self.last + 1:
            self.faults.add(Fault.REMOVED, link.seq)
        elif link.previous != self.previous:
            self.faults.add(Fault.CHANGED, link.seq)
        if not link_holds(link):
            self.faults.add(Fault.CHANGED, link.seq)
        self._detail(link)
        self.count, self.previous, self.last = self.count + 1, link.hash, max(self.last, link.seq)
        self._compare(link)

    def result(self, *, outside: bool) -> Verification:
        self.outer.rest(self.faults)
        self.inner.rest(self.faults)
        return Verification(
            entries=self.count,
            purged=self.purged,
            last=self.last,
            last_hash=self.previous,
            proven_to=self.outer.proven,
            outside=outside,
            torn=self.outer.torn + self.inner.torn,
            faults=tuple(self.faults.first),
            fault_count=self.faults.count,
        )

    def _compare(self, link: Head | Entry) -> None:
        self.outer.compare(link, self.faults)
        self.inner.compare(link, self.faults)

    def _detail(self, link: Entry) -> None:
        if link.purged:
            self.purged += 1
        elif not detail_holds(link):
            self.faults.add(Fault.DETAIL_CHANGED, link.seq)
