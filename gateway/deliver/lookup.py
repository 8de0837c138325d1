"""Ask the server who has the number of the recording, and decide strictly."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from gateway import fhir
from gateway.deliver.person import Ours, accept, follow, one_of, remarks_on
from gateway.deliver.stopped import Stopped, rejected
from gateway.deliver.talk import Talk, escaped
from gateway.fhir.patients import Candidate, candidate
from gateway.model import Hold, HoldReason, Identifier, PersonChoice, Rejected, Remark
from gateway.settings.destination import Destination


@dataclass(frozen=True, slots=True)
class Wanted:
    """Whose recording it is, and which named rules a person has let pass."""

    parcel: fhir.Parcel
    waived: frozenset[str]
    today: date


def find_person(talk: Talk, destination: Destination, wanted: Wanted) -> fhir.PatientLink:
    """How this server knows the person. Raises Stopped with a hold when that is not beyond doubt."""
    identifier = wanted.parcel.person.identifier
    if identifier is None:
        raise rejected(HoldReason.IDENTIFIER_MISSING)
    number = Identifier(destination.identifier_systems.get(identifier.system, identifier.system), identifier.value)
    if destination.person is PersonChoice.LOGICAL:
        return fhir.PatientLink(identifier=number)
    ours = Ours(
        person=wanted.parcel.person,
        number=number,
        ended=wanted.parcel.ended,
        today=wanted.today,
        strictness=destination.match,
        waived=wanted.waived,
    )
    found = _sure(one_of(_asked(talk, number), ours))
    if found.replaced_by:
        old, found = found, _followed(talk, found, ours)
        remarks = (Remark.MERGED, *remarks_on(found, ours))
        return fhir.PatientLink(reference=f"Patient/{found.id}", replaced=f"Patient/{old.id}", remarks=remarks)
    if hold := accept(found, ours):
        raise Stopped(Rejected(hold=hold))
    return fhir.PatientLink(reference=f"Patient/{found.id}", remarks=remarks_on(found, ours))


def _asked(talk: Talk, number: Identifier) -> list[Candidate]:
    search = fhir.Search("Patient", (("identifier", f"{escaped(number.system)}|{escaped(number.value)}"),))
    try:
        bodies = talk.search(search)
    except Stopped as stopped:
        if isinstance(stopped.answer, Rejected) and stopped.answer.hold.reason is HoldReason.RECORD_UNSUITABLE:
            raise rejected(HoldReason.PERSON_ANSWER_DOUBTFUL, stopped.answer.hold.detail) from None
        raise
    return [_readable(body) for body in bodies]


def _readable(body: Mapping[str, Any]) -> Candidate:
    found = candidate(body)
    if found is None:
        raise rejected(HoldReason.PERSON_ANSWER_DOUBTFUL, "the answer holds an entry that is no Patient")
    return found


def _followed(talk: Talk, old: Candidate, ours: Ours) -> Candidate:
    if len(old.replaced_by) > 1:
        raise rejected(HoldReason.PERSON_SEVERAL, "replaced by more than one entry")
    body = talk.read(f"Patient/{old.replaced_by[0]}")
    if body is None:
        raise rejected(HoldReason.PERSON_INACTIVE, "replaced by an entry that is not there")
    new = _readable(body)
    if hold := follow(old, new, ours):
        raise Stopped(Rejected(hold=hold))
    return new


def _sure(found: Candidate | Hold) -> Candidate:
    if isinstance(found, Hold):
        raise Stopped(Rejected(hold=found))
    return found
