"""Which rules produced the numbers, and whether limits may be applied to this person and this recording at all."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from gateway.analyse.words import Origin, Why, say
from gateway.mapping.guideline import Guideline
from gateway.mapping.rules import Rules
from gateway.mapping.studies import NEEDS
from gateway.model import (
    Adequacy,
    Examined,
    PeriodName,
    Recording,
    RuleSet,
    Use,
    Verdict,
    WindowOrigin,
    Windows,
)
from gateway.model.phrase import Phrase, joined

_ORIGINS = {
    WindowOrigin.DIARY: Origin.DIARY,
    WindowOrigin.MARKED: Origin.MARKED,
    WindowOrigin.SITE: Origin.SITE,
    WindowOrigin.GUIDELINE: Origin.GUIDELINE,
}


def rule_set(recording: Recording, windows: Windows, rules: Rules) -> RuleSet:
    """The rules in words, and whether limits may be applied (`interpreted`, `why_not`)."""
    guideline = rules.guideline
    why_not = _why_not(recording, rules)
    return RuleSet(
        guideline=guideline.id,
        guideline_title=guideline.title,
        limits=Phrase(rules.limits.title),
        deciding_mean=guideline.deciding_mean,
        windows_text=joined(" ", _windows(windows, guideline)),
        approved_locally=guideline.approved_by,
        interpreted=not why_not,
        why_not=why_not,
        deciding_periods=guideline.deciding_periods,
    )


def _windows(windows: Windows, guideline: Guideline) -> Iterator[str]:
    """How awake and asleep were found, and on which days in another way."""
    yield say(_ORIGINS[windows.origin], guideline=guideline.short)
    for day in windows.by_clock:
        by_site = windows.origin_of(day) is WindowOrigin.SITE
        yield say(Origin.DAY_BY_SITE if by_site else Origin.DAY_BY_GUIDELINE, day=day, guideline=guideline.short)


def fitting(recording: Recording, rules: Rules) -> Rules:
    """The same rules with the guideline that is meant for this person: the site's own, else the first of its others.

    Where none is, the site's own stays, and the result holds values only. The age that a site raised is for its own.
    """
    if not rules.others or not _why_not(recording, rules):
        return rules
    for guideline in rules.others:
        chosen = replace(rules, guideline=guideline, lowest_age=None)
        if not _why_not(recording, chosen):
            return chosen
    return rules


def _why_not(recording: Recording, rules: Rules) -> str:
    guideline = rules.guideline
    weeks = recording.circumstances.pregnancy_weeks
    pregnant = weeks is not None
    if pregnant and guideline.context != "pregnancy":
        return say(Why.PREGNANT, guideline=guideline.short)
    if guideline.context == "pregnancy" and not pregnant:
        return say(Why.NOT_PREGNANT, guideline=guideline.short)
    if guideline.weeks is not None and weeks is not None and weeks >= guideline.weeks.before:
        return say(Why.TOO_LATE, guideline=guideline.short, week=guideline.weeks.before)
    if recording.person.birth_date is None:
        return say(Why.AGE_UNKNOWN)
    least, most = lowest_age(guideline, rules.lowest_age), guideline.highest_age
    years = age(recording.person.birth_date, recording.began.date())
    if years < least:
        return say(Why.TOO_YOUNG, guideline=guideline.short, age=least)
    if most is not None and years > most:
        return say(Why.TOO_OLD, guideline=guideline.short, age=most)
    return ""


def lowest_age(guideline: Guideline, site: int | None) -> int:
    """The guideline's lowest age, which a site may raise but never lower."""
    return max(guideline.lowest_age, site or 0)


def age(born: date, on: date) -> int:
    """Whole years; a birthday on 29 February is reached on 1 March of a common year."""
    return on.year - born.year - ((on.month, on.day) < (born.month, born.day))


def irregular(recording: Recording, examined: Examined) -> bool:
    """Is the pulse irregular: a fact of the file, or at least 20 per cent of the measured readings marked so?

    A reading that is kept out of the means still tells of the pulse.
    """
    measured = [judged.reading for judged in examined.judged if judged.use is not Use.FAILED]
    marked = sum(reading.irregular is True for reading in measured)
    share = bool(measured) and 100 * marked >= NEEDS.irregular_percent * len(measured)
    return recording.circumstances.irregular_pulse is True or share


def may_interpret(adequacy: Adequacy, period: PeriodName, day: int) -> bool:
    """May the mean of a period be held against a limit?

    Never when the recording is not adequate; the period itself needs its own counts, and statements on the night
    need 20 awake and 7 asleep valid readings.
    """
    count = adequacy.count(period, day)
    if adequacy.verdict is Verdict.NOT_ADEQUATE or count is None or not (count.filed and count.adequate):
        return False
    return adequacy.dip_ready if period is PeriodName.ASLEEP else True
