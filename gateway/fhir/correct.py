"""What was filed + the same recording as it is now -> what stands in the record once it is corrected.

Everything keeps its id; what says the same keeps its very bytes, so that it is not written again. What says something
else becomes `corrected` (a value that stood there is another or gone) or `amended` (something was added to it). What
the recording has no more becomes entered in error. A printed report in a DocumentReference or a Binary is not
written over: a new one replaces it, and the old one says so (`relatesTo`, `superseded`).
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from gateway.fhir.address import LINK
from gateway.fhir.claiming import still_claiming
from gateway.fhir.content import Rank, Resource, written
from gateway.fhir.elements import Element, link
from gateway.fhir.identity import Identity
from gateway.fhir.revision import revision
from gateway.fhir.withdraw import GONE, Notice, gone_in_place
from gateway.mapping.codes import Codes
from gateway.mapping.profile import Profile

CORRECTED, AMENDED = "corrected", "amended"
_REPLACED = frozenset({"DocumentReference", "Binary"})
_UNSETTLED = "preliminary"
_MADE = frozenset(
    {"id", "identifier", "meta", "text", "issued", "date", "status", "docStatus", "relatesTo", "creation"}
)
"""Elements that tell who says it, when, in which order: not what is said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """How a recording is corrected. `notice` stands in what the recording has no more. `gone`: instants (seconds
    since 1970) of the readings that may be taken back; all others that are not composed stay as they are, as no
    setting takes anything out of a record. None: a named person saw everything that goes. `amends`: the readings are
    the same and another guideline looks at them, so that a result in another number is no correction of an error.
    """

    identity: Identity
    codes: Codes
    profile: Profile
    notice: Notice
    gone: frozenset[float] | None
    amends: bool = False


def correct(before: Sequence[Resource], now: Sequence[Resource], how: Correction) -> tuple[Resource, ...]:
    """Everything of the recording as it is to stand, and the Provenance of what changed; nothing where all of it
    stands already. `before` as it was sent last, `now` as composed. Raises ValueError without a Provenance in `now`.
    """
    work = _Work(held={item.id: item for item in before if item.rank is not Rank.PROVENANCE}, how=how)
    source: Resource | None = None
    for item in sorted(now, key=lambda item: item.rank):
        if item.rank is Rank.PROVENANCE:
            source = item
        elif item.rank is Rank.DEVICE:
            work.stand[item.id] = item
        else:
            work.take(item)
    work.keep_the_rest()
    if source is None:
        raise ValueError("what was composed has a Provenance")
    if not work.touched:
        return ()
    standing = sorted(work.settled(), key=lambda item: item.rank)
    return (*standing, revision(source, work.touched, how.identity, how.codes, how.notice.at))


@dataclass(slots=True, kw_only=True)
class _Work:
    """The resources of one recording while they are compared, in the order of writing."""

    held: Mapping[str, Resource]
    how: Correction
    stand: dict[str, Resource] = field(default_factory=dict)
    touched: list[str] = field(default_factory=list)
    renamed: dict[str, str] = field(default_factory=dict)
    values_moved: bool = False

    def take(self, composed: Resource) -> None:
        """One resource of the recording as it is now."""
        own, further = self._lineage(composed.id)
        old = self.held.get(own)
        if old is not None and own != composed.id:
            self.renamed[composed.id] = own
        new = _renamed(composed, self.renamed)
        if old is not None and _stays(old.body, new.body):
            self.stand[own] = old
        elif old is None:
            self._put(new)
        elif old.body.get("status") == GONE or old.type in _REPLACED:
            self.renamed[composed.id] = further
            self._put(_replacing(_renamed(composed, self.renamed), old))
            self.stand[own] = _superseded(old)
            if old.type == "DocumentReference":
                self.touched.append(own)
        else:
            self._put(self._changed(old, new))

    def keep_the_rest(self) -> None:
        """What was filed and is not composed any more: gone, or left as it is."""
        for own, old in self.held.items():
            if own in self.stand or old.rank is Rank.DEVICE:
                continue
            if old.type == "Observation" and old.body.get("status") != GONE and self._may_go(old):
                self.values_moved = True
                self._put(Resource(old.rank, gone_in_place(old.body, self.how.notice)))
            else:
                self.stand[own] = old

    def _may_go(self, old: Resource) -> bool:
        if self.how.gone is None:
            return True
        if old.rank is not Rank.READING:
            return bool(self.how.gone)
        return datetime.fromisoformat(old.body["effectiveDateTime"]).timestamp() in self.how.gone

    def settled(self) -> Iterator[Resource]:
        """With the word for the report, which depends on all the others."""
        for item in self.stand.values():
            if item.id in self.touched and item.body.get("status") == AMENDED and item.type == "DiagnosticReport":
                yield replace(item, body={**item.body, "status": CORRECTED if self.values_moved else AMENDED})
            else:
                yield item

    def _put(self, resource: Resource) -> None:
        self.stand[resource.id] = resource
        self.touched.append(resource.id)

    def _lineage(self, composed: str) -> tuple[str, str]:
        """The id under which the newest of its kind stands, and the next one."""
        own, number = composed, 1
        while (further := self.how.identity.uuid(f"{composed} again {number}")) in self.held:
            own, number = further, number + 1
        return own, further

    def _changed(self, old: Resource, new: Resource) -> Resource:
        status = str(new.body["status"])
        if old.type == "Observation":
            moved = not self.how.amends and bool(_values(old.body) - _values(new.body))
            self.values_moved = self.values_moved or moved
            status = CORRECTED if moved else AMENDED
        elif old.body["status"] != _UNSETTLED:
            status = AMENDED
        body = still_claiming({**new.body, "status": status}, self.how.profile, self.how.codes)
        return Resource(new.rank, body)


def _says(value: Any) -> Any:
    """A resource as far as it says something of the person."""
    if isinstance(value, Mapping):
        return {name: _says(item) for name, item in value.items() if name not in _MADE}
    return [_says(item) for item in value] if isinstance(value, list | tuple) else value


def _stays(old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    """Both say the same, it was not taken back, and it is not preliminary and to be final now."""
    settles = old.get("status") == _UNSETTLED and new.get("status") != _UNSETTLED
    return old.get("status") != GONE and not settles and bool(_says(old) == _says(new))


def _values(body: Mapping[str, Any]) -> Counter[bytes]:
    """Each value with what it is of."""
    parts = [body, *body.get("component", ())]
    return Counter(
        written({"of": part["code"], "is": {name: part[name] for name in part if name.startswith("value")}})
        for part in parts
    )


def _renamed(resource: Resource, names: Mapping[str, str]) -> Resource:
    """The resource and its links under other ids of ours."""
    body: Element = _relinked(resource.body, names)
    return replace(resource, body={**body, "id": names.get(resource.id, resource.id)})


def _relinked(value: Any, names: Mapping[str, str]) -> Any:
    if isinstance(value, Mapping):
        return {name: _relinked(item, names) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_relinked(item, names) for item in value]
    if isinstance(value, str) and value.startswith(LINK):
        ours = value.removeprefix(LINK)
        return LINK + names.get(ours, ours)
    return value


def _replacing(new: Resource, old: Resource) -> Resource:
    if new.type != "DocumentReference":
        return new
    status = {} if old.body["docStatus"] == _UNSETTLED else {"docStatus": AMENDED}
    return replace(new, body={**new.body, **status, "relatesTo": [{"code": "replaces", "target": link(old.id)}]})


def _superseded(old: Resource) -> Resource:
    if old.type != "DocumentReference":
        return old
    return replace(old, body={**old.body, "status": "superseded"})
