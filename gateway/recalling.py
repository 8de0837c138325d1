"""What the store remembers of a recording and of its person, and what it holds the recording for."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from gateway import fhir
from gateway.analyse.differing import differences
from gateway.correcting import Again
from gateway.intake import Considered
from gateway.model import Hold, HoldReason, Waiver
from gateway.model.plain import plain_json
from gateway.store import KnownRecording, Store, Withdrawn
from gateway.validate import known


def known_of(store: Store, considered: Considered) -> tuple[KnownRecording, ...]:
    """Recordings of this person that are known already; none for one that is held."""
    if considered.hold is not None or considered.recording is None:
        return ()
    return store.same_person(person_key(store, considered))


def earlier_of(store: Store, considered: Considered, own_id: str) -> tuple[bytes, ...]:
    """Results of earlier recordings of this person, packed, for the comparison."""
    if considered.hold is not None or considered.recording is None:
        return ()
    return store.earlier_results(person_key(store, considered), considered.recording.began, own_id)


def again_of(
    store: Store, considered: Considered, before: Iterable[KnownRecording], own_id: str, waived: frozenset[str]
) -> tuple[Considered, Again | None]:
    """Which recording it is that was taken in before, with other content: held where a person must see that first."""
    if considered.hold is not None or considered.recording is None:
        return considered, None
    recording = considered.recording
    same = [each for each in before if each.recording_id != own_id and known.same_recording(recording, _before(each))]
    if len(same) > 1:
        hold = Hold(reason=HoldReason.RECORDING_SEVERAL, detail=", ".join(each.recording_id[:8] for each in same))
        return replace(considered, hold=hold), None
    standing = store.standing(same[0].recording_id) if same else None
    facts = store.facts(same[0].recording_id) if same else None
    if standing is None or facts is None:
        return considered, None
    changes = differences(facts, plain_json(considered.facts))
    again = Again(known=same[0], standing=standing, changes=changes)
    if changes.nothing:
        return considered, again
    return replace(considered, hold=known.hold_if_corrected(changes, same[0].recording_id, waived)), again


def withdrawn_of(store: Store, considered: Considered) -> tuple[Withdrawn, ...]:
    """What was taken back of this very recording, said to be this person's."""
    recording = considered.recording
    if considered.hold is not None or recording is None:
        return ()
    return tuple(
        each
        for each in store.withdrawn(person_key(store, considered))
        if known.same_recording(recording, _before(each))
    )


def hold_if_withdrawn(considered: Considered, gone: Sequence[Withdrawn], waivers: Iterable[Waiver]) -> Considered:
    """A release counts only for what was withdrawn before it: a second withdrawal needs a second one."""
    released = max((waiver.at for waiver in waivers if waiver.rule == known.WITHDRAWN_RULE), default=None)
    open_ = [each for each in gone if released is None or each.at > released or not each.finished]
    if not open_ or considered.recording is None:
        return considered
    finished = all(each.finished for each in gone)
    hold = known.hold_if_withdrawn(considered.recording, [_before(each) for each in open_], finished)
    return replace(considered, hold=hold) if hold else considered


def _before(each: Withdrawn | KnownRecording) -> known.Earlier:
    return known.Earlier(recording_id=each.recording_id, serial=each.serial, instants=frozenset(each.instants))


def person_key(store: Store, considered: Considered) -> str:
    """The person's key in this store, from the identifier. Raises ValueError without one."""
    if considered.recording is None or considered.recording.person.identifier is None:
        raise ValueError("a recording without an identifier is always held")
    return fhir.person_key(store.key, considered.recording.person.identifier)
