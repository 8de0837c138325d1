"""Is the person on the server the person of the recording? Pure, strict, and silent about details.

Nobody is ever created, merged or guessed at. The server's search is only a proposal: some servers fold case, drop
a parameter they do not know, or return everybody. What is returned is compared here, byte for byte.
"""

from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from gateway.deliver.names import forms, words
from gateway.fhir.patients import Candidate, Number
from gateway.model import Hold, HoldReason, Identifier, Person, Remark
from gateway.settings.destination import Match

DECEASED_RULE = "person-deceased"
NAME_RULE = "person-name"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ours:
    """What we know: the person, the number as this server writes it, and the days that matter."""

    person: Person
    number: Identifier
    ended: datetime
    today: date
    strictness: Match
    waived: frozenset[str] = frozenset()


def one_of(candidates: Sequence[Candidate], ours: Ours) -> Candidate | Hold:
    """The only candidate that carries our number, byte for byte; a Hold when there is none or more than one."""
    if not candidates:
        return Hold(reason=HoldReason.PERSON_NOT_FOUND)
    if any(not _carries(candidate, ours.number) for candidate in candidates):
        return Hold(
            reason=HoldReason.PERSON_ANSWER_DOUBTFUL, detail="the answer holds somebody who does not have this number"
        )
    current = [candidate for candidate in candidates if _carries_now(candidate, ours)]
    if len(current) > 1:
        return Hold(reason=HoldReason.PERSON_SEVERAL)
    if not current:
        return Hold(reason=HoldReason.PERSON_NOT_FOUND, detail="the number is there, but as an old one")
    return current[0]


def accept(candidate: Candidate, ours: Ours) -> Hold | None:
    """Everything else about the one candidate; None when it is the person. A replaced entry is not asked this."""
    if not candidate.active:
        return Hold(reason=HoldReason.PERSON_INACTIVE)
    if hold := _birth_date(candidate, ours):
        return hold
    if hold := _name(candidate, ours):
        return hold
    return _alive(candidate, ours)


def follow(old: Candidate, new: Candidate, ours: Ours) -> Hold | None:
    """May we follow a replaced-by link from `old` to `new`? None when we may, and `new` is the person."""
    if old.id not in new.replaces:
        return Hold(reason=HoldReason.PERSON_INACTIVE, detail="replaced by an entry that does not link back")
    if new.replaced_by:
        return Hold(reason=HoldReason.PERSON_INACTIVE, detail="replaced more than once")
    if not old.birth_date or old.birth_date != new.birth_date:
        return Hold(reason=HoldReason.PERSON_MISMATCH, detail="replaced by an entry with another birth date")
    return accept(new, ours)


def _carries(candidate: Candidate, number: Identifier) -> bool:
    return any((item.system, item.value) == (number.system, number.value) for item in candidate.numbers)


def _carries_now(candidate: Candidate, ours: Ours) -> bool:
    return any(
        (item.system, item.value) == (ours.number.system, ours.number.value)
        and item.use != "old"
        and _covers(item, ours.today)
        for item in candidate.numbers
    )


def _covers(number: Number, today: date) -> bool:
    begins = _days(number.begins) if number.begins else None
    ends = _days(number.ends) if number.ends else None
    if (number.begins and begins is None) or (number.ends and ends is None):
        return False
    return (begins is None or begins[0] <= today) and (ends is None or today <= ends[1])


def _birth_date(candidate: Candidate, ours: Ours) -> Hold | None:
    theirs = candidate.birth_date or ""
    if ours.person.birth_date is None or len(theirs) != len("2000-01-01"):
        if ours.strictness is not Match.IDENTIFIER:
            where = "in the file" if ours.person.birth_date is None else "in the record"
            return Hold(reason=HoldReason.BIRTH_DATE_MISSING, detail=where)
        contradicts = ours.person.birth_date is not None and not ours.person.birth_date.isoformat().startswith(theirs)
    else:
        contradicts = ours.person.birth_date.isoformat() != theirs
    return Hold(reason=HoldReason.PERSON_MISMATCH, detail="another birth date") if contradicts else None


def _name(candidate: Candidate, ours: Ours) -> Hold | None:
    """By default only both names differing together speaks against a person: people marry and are called short."""
    if NAME_RULE in ours.waived:
        return None
    found = _compared(candidate, ours)
    if ours.strictness is Match.NAME:
        if not (found.family and found.given):
            return Hold(reason=HoldReason.PERSON_MISMATCH, detail="family or given name", rule=NAME_RULE)
    elif found.family is False and found.given is False and not found.exchanged:
        return Hold(reason=HoldReason.PERSON_MISMATCH, detail="family and given name both", rule=NAME_RULE)
    return None


def remarks_on(candidate: Candidate, ours: Ours) -> tuple[Remark, ...]:
    """How the names of an accepted candidate differ: a note, never a reason for or against."""
    found = _compared(candidate, ours)
    if found.exchanged:
        return (Remark.NAMES_EXCHANGED,)
    differing = {Remark.FAMILY_NAME: found.family, Remark.GIVEN_NAME: found.given}
    return tuple(remark for remark, agrees in differing.items() if agrees is False)


@dataclass(frozen=True, slots=True)
class _Names:
    """Do the names agree? None when one side has nothing to compare."""

    family: bool | None
    given: bool | None
    exchanged: bool
    """family and given name stand in each other's place, as happens when they are typed"""


def _compared(candidate: Candidate, ours: Ours) -> _Names:
    families = {form for family, _ in candidate.names for form in forms(family)}
    givens = {word for _, given in candidate.names for name in given for word in words(name)}
    family, given = forms(ours.person.family_name or ""), words(ours.person.given_name or "")
    agree = _Names(_agrees(family, families), _agrees(given, givens), False)
    exchanged = not (agree.family and agree.given) and bool(family & givens and given & families)
    return replace(agree, exchanged=exchanged)


def _agrees(ours: frozenset[str], theirs: set[str]) -> bool | None:
    """None when one side has nothing to compare."""
    return bool(ours & theirs) if ours and theirs else None


def _alive(candidate: Candidate, ours: Ours) -> Hold | None:
    if candidate.deceased is False or DECEASED_RULE in ours.waived:
        return None
    if candidate.deceased is True:
        return Hold(reason=HoldReason.PERSON_DECEASED, detail="no date of death in the record", rule=DECEASED_RULE)
    days = _days(candidate.deceased)
    if days is not None and days[0] > ours.ended.date():
        return None
    return Hold(reason=HoldReason.PERSON_DECEASED, rule=DECEASED_RULE)


def _days(moment: str) -> tuple[date, date] | None:
    """First and last day that a FHIR dateTime may mean (YYYY, YYYY-MM, YYYY-MM-DD or longer); None if unreadable."""
    parts = moment[:10].split("-")
    try:
        numbers = [int(part) for part in parts]
        year, month, day = [*numbers, *(0, 0)][:3]
        first = date(year, month or 1, day or 1)
        last = date(year, month or 12, day or monthrange(year, month or 12)[1])
    except ValueError:
        return None
    return first, last
