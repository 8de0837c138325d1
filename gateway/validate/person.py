"""Is it certain enough whose recording this is? Nothing here asks a record server."""

import re
from collections.abc import Iterator
from datetime import date

from gateway.model import HoldReason, Identifier
from gateway.model.phrase import Phrase
from gateway.validate.case import Case, Doubt, Remark, caution, note
from gateway.validate.number import canonical, is_blank, is_filler, passes

OLDEST = 120
"""years; nobody documented has been much older"""


def identifier_present(case: Case) -> Iterator[Remark]:
    """A number must be there; no search is ever made with a blank one."""
    if _number(case) is None:
        yield Doubt(rule="identifier-missing", reason=HoldReason.IDENTIFIER_MISSING, waivable=False)


def identifier_system_known(case: Case) -> Iterator[Remark]:
    """The system that issued the number must be one that the site works with."""
    found = _number(case)
    if found is not None and found.system not in case.rules.person.systems:
        yield Doubt(rule="identifier-system-unknown", reason=HoldReason.IDENTIFIER_SYSTEM_UNKNOWN, waivable=False)


def identifier_possible(case: Case) -> Iterator[Remark]:
    """Check digit and form of the number, and no filler such as 1111111111."""
    found = _number(case)
    if found is None or found.system not in case.rules.person.systems:
        return
    if is_filler(found.value):
        detail = Phrase("every digit is the same")
    elif not passes(found, case.rules.person.systems):
        detail = Phrase("form or check digit")
    else:
        return
    yield Doubt(rule="identifier-invalid", reason=HoldReason.IDENTIFIER_INVALID, detail=detail, waivable=False)


def identifier_real(case: Case) -> Iterator[Remark]:
    """Numbers of published test ranges are refused in production."""
    found, person = _number(case), case.rules.person
    pattern = person.test_numbers.get(found.system) if found else None
    if found is None or pattern is None:
        return
    if re.fullmatch(pattern, canonical(found, person.systems).value) is None:
        return
    if person.production:
        yield Doubt(rule="identifier-test", reason=HoldReason.IDENTIFIER_TEST, waivable=False)
    else:
        yield note("identifier-test", Phrase("The person's number is a test number."))


def birth_date_present(case: Case) -> Iterator[Remark]:
    """Without a birth date the person cannot be confirmed, unless the site chose the number alone."""
    if case.recording.person.birth_date is None and case.rules.person.birth_date_needed:
        yield Doubt(rule="birth-date-missing", reason=HoldReason.BIRTH_DATE_MISSING)


def birth_date_possible(case: Case) -> Iterator[Remark]:
    """Not in the future, not after the recording, not over 120 years ago."""
    born = case.recording.person.birth_date
    if born is None:
        return
    worn = case.recording.began
    if born > case.now.astimezone(worn.tzinfo).date():
        detail = Phrase("in the future")
    elif born > worn.date():
        detail = Phrase("after the recording")
    elif age(born, worn.date()) > OLDEST:
        detail = Phrase("more than {years} years ago", years=OLDEST)
    else:
        return
    yield Doubt(rule="birth-date-doubtful", reason=HoldReason.BIRTH_DATE_DOUBTFUL, detail=detail, waivable=False)


def old_enough(case: Case) -> Iterator[Remark]:
    """Unknown age, or one below the lowest: nothing is held, but limits for adults are not applied."""
    born, guideline = case.recording.person.birth_date, case.rules.guideline
    lowest = max(guideline.lowest_age, case.rules.lowest_age or 0)
    if born is None:
        yield caution("age-unknown", Phrase("The age is not known: limits for adults are not applied."))
    elif age(born, case.recording.began.date()) < lowest:
        text = Phrase("Below the lowest age of {lowest} years: limits for adults are not applied.", lowest=lowest)
        yield caution("age-too-low", text)
    elif guideline.highest_age is not None and age(born, case.recording.began.date()) > guideline.highest_age:
        text = Phrase(
            "Above the highest age of {highest} years: no limits are applied.", highest=guideline.highest_age
        )
        yield caution("age-too-high", text)


def age(born: date, on: date) -> int:
    """Whole years; a birthday on 29 February is reached on 1 March of a common year."""
    return on.year - born.year - ((on.month, on.day) < (born.month, born.day))


def _number(case: Case) -> Identifier | None:
    found = case.recording.person.identifier
    return None if found is None or is_blank(found.value) else found


PERSON_RULES = (
    identifier_present,
    identifier_system_known,
    identifier_possible,
    identifier_real,
    birth_date_present,
    birth_date_possible,
    old_enough,
)
