"""How the mean of a period lies against the guideline's limits: one sentence for the pair, one per component.

Classes go by the reported values; lower limits are included, there are no upper limits, so no value falls between
two classes. Either component reaching its limit is enough for the pair.
"""

from collections.abc import Iterator
from decimal import Decimal

from gateway.analyse.numbers import Pair
from gateway.analyse.words import Sentence, limit_pair, pair, plain, say
from gateway.mapping.guideline import Grade, Guideline, PeriodLimits
from gateway.model import Interpretation, Limit, PeriodName, Subject
from gateway.model.phrase import Phrase

_COMPONENTS = {Subject.SYSTOLIC: "{place}, systolic", Subject.DIASTOLIC: "{place}, diastolic"}


def interpret(
    period: PeriodName, day: int, means: Pair, guideline: Guideline, place: str
) -> Iterator[Interpretation]:
    """Statements on one period, none where the guideline gives no limits for it.

    A period that the guideline does not decide on is compared in words only, without a flag.
    """
    limits = guideline.of(period)
    if limits is None:
        return
    decides = period in guideline.deciding_periods
    grade = grade_of(limits, means)
    yield Interpretation(
        subject=Subject.PRESSURE,
        period=period,
        day=day,
        result=grade.id,
        text=_sentence(place, means, grade, limits, guideline),
        flag=grade.flag if decides else None,
    )
    for subject, value in ((Subject.SYSTOLIC, means.systolic), (Subject.DIASTOLIC, means.diastolic)):
        yield _component(subject, value, period, day, guideline, limits, place)


def deciding(limits: PeriodLimits) -> Grade:
    """The grade whose lower limit a value is called "at or above" or "below"."""
    return next(grade for grade in limits.grades if grade.deciding)


def grade_of(limits: PeriodLimits, means: Pair) -> Grade:
    """Highest grade that either component reaches, else the class below all limits."""
    found = [grade for grade in limits.grades if reaches(grade, means)]
    return found[-1] if found else limits.grades[0]


def raised(limits: PeriodLimits, means: Pair) -> bool:
    """Does either component reach the deciding limit?"""
    return reaches(deciding(limits), means)


def reaches(grade: Grade, means: Pair) -> bool:
    """Is either component at or above the grade's lower limit?"""
    if grade.systolic is None or grade.diastolic is None:
        return False
    return means.systolic >= grade.systolic or means.diastolic >= grade.diastolic


def limit_of(grade: Grade) -> str:
    """The grade's lower limit as a pair, "" for the class below all limits."""
    if grade.systolic is None or grade.diastolic is None:
        return ""
    return limit_pair(grade.systolic, grade.diastolic)


def _sentence(place: str, means: Pair, grade: Grade, limits: PeriodLimits, guideline: Guideline) -> str:
    bar = deciding(limits)
    above = raised(limits, means)
    if limits.period not in guideline.deciding_periods:
        template = Sentence.COMPARED_AT_OR_ABOVE if above else Sentence.COMPARED_BELOW
    elif grade is bar or grade is limits.grades[0]:
        template = Sentence.AT_OR_ABOVE if above else Sentence.BELOW
    else:
        template = Sentence.AT_OR_ABOVE_GRADE if above else Sentence.BELOW_GRADE
    return say(
        template,
        place=place,
        value=pair(means.systolic, means.diastolic),
        limit=limit_of(bar),
        guideline=guideline.short,
        grade=Phrase(grade.words),
        grade_limit=limit_of(grade),
    )


def _component(
    subject: Subject,
    value: Decimal,
    period: PeriodName,
    day: int,
    guideline: Guideline,
    limits: PeriodLimits,
    place: str,
) -> Interpretation:
    reached = [grade for grade in limits.grades if (least := _least(grade, subject)) is None or value >= least]
    grade = reached[-1]
    limit = _least(deciding(limits), subject) or Decimal(0)
    decides = period in guideline.deciding_periods
    above = value >= limit
    if decides:
        template = Sentence.AT_OR_ABOVE if above else Sentence.BELOW
    else:
        template = Sentence.COMPARED_AT_OR_ABOVE if above else Sentence.COMPARED_BELOW
    return Interpretation(
        subject=subject,
        period=period,
        day=day,
        result=grade.id,
        text=say(
            template,
            place=Phrase(_COMPONENTS[subject], place=place),
            value=value,
            limit=plain(limit),
            guideline=guideline.short,
        ),
        flag=grade.flag if decides else None,
        limit=Limit(value=limit, source=guideline.short),
    )


def _least(grade: Grade, subject: Subject) -> Decimal | None:
    return grade.systolic if subject is Subject.SYSTOLIC else grade.diastolic
