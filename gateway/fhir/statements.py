"""How a number lies against a limit, on the component that holds the number."""

from decimal import Decimal

from gateway.fhir.elements import Element, Scope, coding_of, concept, filled, quantity
from gateway.model import Interpretation, Limit, PeriodName, Subject, Unit, Verdict
from gateway.model.phrase import joined

_STEP = Decimal("0.1")
"""R4's referenceRange.high is inclusive, and reported values have one decimal."""


def judged_against(scope: Scope, subject: Subject, period: PeriodName, day: int) -> Element:
    """`interpretation` and `referenceRange` of one pressure: nothing where nothing may be said.

    A recording that is not adequate gets IND and no limit; a destination may want values only.
    """
    if scope.summary.adequacy.verdict is Verdict.NOT_ADEQUATE:
        return {"interpretation": [concept(scope, "indeterminate")]}
    found = scope.summary.interpretation(subject, period, day)
    if found is None or not scope.filing.interpretation:
        return {}
    return filled(
        interpretation=[said(scope, found)],
        referenceRange=[_range(scope, found.limit)] if found.limit else None,
    )


def said(scope: Scope, statement: Interpretation) -> Element:
    """A statement: its text, and N, H or L only where the guideline file assigns it."""
    flag = statement.flag
    codings = [coding_of(scope.codes.coding(f"interpretation:{flag.value}"))] if flag else []
    return filled(coding=codings, text=statement.text)


def said_of(scope: Scope, subject: Subject, day: int) -> Element:
    """`interpretation` of a whole-recording statistic."""
    found = scope.summary.interpretation(subject, None, day)
    may = scope.filing.interpretation and scope.summary.adequacy.verdict is not Verdict.NOT_ADEQUATE
    return {"interpretation": [said(scope, found)]} if found and may else {}


def adequacy_note(scope: Scope) -> str | None:
    """The caution that stands beside every value of a recording that is not (proven to be) good enough."""
    adequacy = scope.summary.adequacy
    reasons = joined(" ", adequacy.reasons)
    if adequacy.verdict is Verdict.NOT_ADEQUATE:
        text = "Not good enough by the rule of {rule}. {reasons} Repeating the recording is advised."
        return scope.say(text, rule=adequacy.rule, reasons=reasons)
    if adequacy.verdict is Verdict.NOT_PROVEN:
        text = "Not proven to be good enough by the rule of {rule}. {reasons}"
        return scope.say(text, rule=adequacy.rule, reasons=reasons).strip()
    return None


def _range(scope: Scope, limit: Limit) -> Element:
    plain = f"{limit.value.normalize():f}"
    return {
        "high": quantity(scope, limit.value - _STEP, Unit.MMHG),
        "text": scope.say("below {limit} mmHg, {source}", limit=plain, source=limit.source),
    }
