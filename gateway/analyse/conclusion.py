"""The short narrative: what a clinician reads first, most important first.

Order: local review rule, the site's own alert rules, irregular pulse, good enough or not, why values stand alone,
awake, asleep, 24 hours, dip, patterns, cautions (of every step, because a clinician sees nothing else of us).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gateway.analyse.alerts import ALERT_RULE
from gateway.analyse.interpret import limit_of, reaches
from gateway.analyse.statements import Ground
from gateway.analyse.words import MEANS, Sentence, on_day, pair, readings, say
from gateway.model import (
    Adequacy,
    Finding,
    Interpretation,
    PeriodName,
    Review,
    Severity,
    Subject,
    Verdict,
    WindowOrigin,
    Windows,
)
from gateway.model.phrase import Phrase, joined

_ORDER = (PeriodName.AWAKE, PeriodName.ASLEEP, PeriodName.WHOLE)
_LATER = (Subject.SYSTOLIC_DIP, Subject.PATTERN, Subject.CLINIC_PATTERN, Subject.LOW_PRESSURE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Everything that the narrative draws on. `said` are the statements, `findings` those of all steps."""

    ground: Ground
    review: Review
    windows: Windows
    said: Sequence[Interpretation]
    findings: Sequence[Finding]
    irregular: bool


def conclude(told: Told) -> tuple[tuple[str, ...], ...]:
    """Sentences of the closed list in four lines, and the site's own review sentence before them."""
    return (
        tuple(_first(told)),
        tuple(_good_enough(told)),
        tuple(sentence for period in _ORDER for sentence in _averages(told, period)),
        (*_dips(told), *_cautions(told)),
    )


def _first(told: Told) -> Iterator[str]:
    if told.review.sentence:
        yield told.review.sentence
    yield from (found.sentence for found in told.findings if found.rule == ALERT_RULE)
    if told.irregular:
        yield say(Sentence.IRREGULAR)


def _good_enough(told: Told) -> Iterator[str]:
    yield _adequacy(told.ground.adequacy)
    if not told.ground.ruled.interpreted:
        yield say(Sentence.NOT_INTERPRETED, why=told.ground.ruled.why_not)


def _adequacy(adequacy: Adequacy) -> str:
    if adequacy.verdict is Verdict.NOT_ADEQUATE:
        return say(Sentence.NOT_ADEQUATE, rule=adequacy.rule, reasons=joined(" ", adequacy.reasons))
    if adequacy.verdict is Verdict.NOT_PROVEN:
        template = Sentence.NOT_PROVEN if adequacy.reasons else Sentence.NOT_PROVEN_SCHEDULE
        return say(template, rule=adequacy.rule, reasons=joined(" ", adequacy.reasons))
    return say(Sentence.ADEQUATE, rule=adequacy.rule, counts=joined("; ", _counts(adequacy)))


def _counts(adequacy: Adequacy) -> Iterator[str]:
    days = max((count.day for count in adequacy.counts), default=1)
    for count in adequacy.counts:
        if count.period is not PeriodName.WHOLE:
            continue
        text = readings(count.valid)
        if count.scheduled is not None:
            text = Phrase(
                "{valid} of {scheduled} scheduled readings valid ({percent} %)",
                valid=count.valid,
                scheduled=count.scheduled,
                percent=count.percent,
            )
        yield Phrase("day {day}: {text}", day=count.day, text=text) if days > 1 else text


def _averages(told: Told, period: PeriodName) -> Iterator[str]:
    """The statement on the pair, or the bare values where nothing may be said; each day in turn."""
    for (name, day), place in told.ground.places.items():
        if name is not period:
            continue
        said = [i.text for i in told.said if i.subject is Subject.PRESSURE and (i.period, i.day) == (name, day)]
        yield from said or [_value(told, period, day, place)]
        if period is PeriodName.WHOLE:
            yield from _sides(told, day, place, bool(said))


def _value(told: Told, period: PeriodName, day: int, place: str) -> str:
    ground = told.ground
    means = ground.numbers.deciding_pair(period, day)
    if means is None:
        return say(Sentence.NO_VALUE, place=place)
    return say(
        _unspoken(ground, period, day),
        place=place,
        value=pair(means.systolic, means.diastolic),
        count=readings(ground.numbers.count(period, day)),
        guideline=ground.guideline.short,
        hours=ground.short_days.get(day),
    )


def _unspoken(ground: Ground, period: PeriodName, day: int) -> Sentence:
    """Why the values of a period stand alone. What holds for the whole recording was said before all averages."""
    if not ground.interpreted:
        return Sentence.VALUE
    if ground.guideline.of(period) is None:
        return Sentence.NO_LIMIT
    if period is PeriodName.WHOLE and day in ground.short_days:
        return Sentence.SHORT_DAY
    if period is PeriodName.ASLEEP and not ground.dip_ready(day):
        return Sentence.FEW_ASLEEP
    return Sentence.FEW


def _sides(told: Told, day: int, place: str, interpreted: bool) -> Iterator[str]:
    """Said of every limit on whose different sides the two 24-hour means fall."""
    arithmetic, hourly = told.ground.numbers.arithmetic(PeriodName.WHOLE, day), told.ground.numbers.hourly(day)
    limits = told.ground.guideline.of(PeriodName.WHOLE)
    if not interpreted or limits is None or arithmetic is None or hourly is None:
        return
    for grade in limits.grades[1:]:
        if reaches(grade, arithmetic) != reaches(grade, hourly):
            yield say(
                Sentence.SIDES,
                place=place,
                arithmetic=pair(arithmetic.systolic, arithmetic.diastolic),
                hourly=pair(hourly.systolic, hourly.diastolic),
                limit=limit_of(grade),
                guideline=told.ground.guideline.short,
                deciding=MEANS[told.ground.ruled.deciding_mean],
            )


def _dips(told: Told) -> Iterator[str]:
    if told.ground.interpreted:
        yield from _unclassed(told.ground)
    for subject in _LATER:
        yield from (statement.text for statement in told.said if statement.subject is subject)


def _unclassed(ground: Ground) -> Iterator[str]:
    """Said once where it holds of every day."""
    lacking = [day for day in ground.days if not ground.dip_ready(day)]
    if len(lacking) == len(ground.days):
        yield say(Sentence.DIP_UNCLASSED)
    else:
        yield from (on_day(say(Sentence.DIP_UNCLASSED), day, len(ground.days)) for day in lacking)


def _cautions(told: Told) -> Iterator[str]:
    findings = (found for found in told.findings if found.rule != ALERT_RULE)  # those stand first
    cautions = (found.sentence for found in findings if found.severity is Severity.CAUTION)
    yield from dict.fromkeys(cautions)
    if told.windows.origin in (WindowOrigin.SITE, WindowOrigin.GUIDELINE):
        yield told.ground.ruled.windows_text  # nobody knows when the person slept, and the dip hangs on it
    if told.windows.sleep_by_day:
        yield say(Sentence.SLEPT_BY_DAY)
    if not told.ground.interpreted:
        return
    if told.ground.circumstances.treated is not False:
        yield say(Sentence.TREATED if told.ground.circumstances.treated else Sentence.TREATMENT_UNKNOWN)
        if told.ground.guideline.treatment_note:
            yield Phrase(told.ground.guideline.treatment_note)
    if told.ground.guideline.approved_by:
        yield say(
            Sentence.APPROVED,
            guideline=told.ground.guideline.short,
            approver=told.ground.guideline.approved_by,
            date=told.ground.guideline.approved_on,
        )
    elif told.ground.guideline.unverified:
        yield say(Sentence.UNVERIFIED, guideline=told.ground.guideline.short)
