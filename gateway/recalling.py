"""What the store remembers of a recording and of its person, and what it holds the recording for."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from gateway import fhir
from gateway.intake import Considered
from gateway.model import Waiver
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


def hold_if_known(considered: Considered, before: Iterable[KnownRecording], own_id: str) -> Considered:
    """Held when it is a recording that was taken in before, with other content."""
    if considered.hold is not None or considered.recording is None:
        return considered
    earlier = [_before(each) for each in before if each.recording_id != own_id]
    hold = known.hold_if_known(considered.recording, earlier)
    return replace(considered, hold=hold) if hold else considered


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
