"""Dips of a day as statistics, as statements, and the finding that clock or sleep times may be wrong."""

from collections.abc import Iterator
from decimal import Decimal

from gateway.analyse.dip import dip, range_of
from gateway.analyse.numbers import Numbers
from gateway.analyse.stating import Place, state
from gateway.analyse.words import Because, Sentence, say
from gateway.model import (
    Adequacy,
    Finding,
    Interpretation,
    PeriodName,
    Severity,
    Statistic,
    StatisticName,
    Subject,
)
from gateway.model.phrase import Phrase

CLOCK_RULE = "reverse-with-heart-rate"
_QUANTITIES = {
    StatisticName.SYSTOLIC_DIP: StatisticName.SYSTOLIC_MEAN,
    StatisticName.DIASTOLIC_DIP: StatisticName.DIASTOLIC_MEAN,
    StatisticName.HEART_RATE_DIP: StatisticName.HEART_RATE_MEAN,
}
_SUBJECTS = {
    Subject.SYSTOLIC_DIP: StatisticName.SYSTOLIC_DIP,
    Subject.DIASTOLIC_DIP: StatisticName.DIASTOLIC_DIP,
}
_COMPONENTS = {Subject.SYSTOLIC_DIP: "Systolic", Subject.DIASTOLIC_DIP: "Diastolic"}


def dips(numbers: Numbers, adequacy: Adequacy, day: int) -> Iterator[Statistic]:
    """Fall of systolic, diastolic and heart-rate mean from awake to asleep, per cent of the awake mean."""
    for name, mean in _QUANTITIES.items():
        awake, asleep = _means(numbers, mean, day)
        count = sum(_count(numbers, mean, period, day) for period in (PeriodName.AWAKE, PeriodName.ASLEEP))
        found: Decimal | Because = Because.NO_AWAKE_OR_ASLEEP
        if awake and asleep is not None:
            found = dip(awake, asleep).percent if _filed(adequacy, day) else Because.FEW_FOR_DIP
        yield state(name, Place(None, day), count, found)


def dip_statements(numbers: Numbers, day: int) -> Iterator[Interpretation]:
    """Dip class of systolic, and of diastolic beside it; the caller sees to it that statements may be made."""
    for subject, name in _SUBJECTS.items():
        awake, asleep = _means(numbers, _QUANTITIES[name], day)
        if numbers.value(name, None, day) is None or awake is None or asleep is None:
            continue
        found = dip(awake, asleep)
        yield Interpretation(
            subject=subject,
            period=None,
            day=day,
            result=found.dip_class.id,
            text=say(
                Sentence.DIP,
                component=Phrase(_COMPONENTS[subject]),
                percent=found.percent,
                awake=awake,
                asleep=asleep,
                dip_class=Phrase(found.dip_class.words),
                range=range_of(found.dip_class),
            ),
        )


def clock_finding(numbers: Numbers, day: int) -> Iterator[Finding]:
    """Pressure and heart rate both higher asleep than awake: rather a wrong clock or diary than a person."""
    for name in (StatisticName.SYSTOLIC_DIP, StatisticName.HEART_RATE_DIP):
        fall = numbers.value(name, None, day)
        if fall is None or fall >= 0:
            return
    yield Finding(rule=CLOCK_RULE, severity=Severity.CAUTION, sentence=say(Sentence.CHECK_CLOCK))


def _filed(adequacy: Adequacy, day: int) -> bool:
    counts = [adequacy.count(period, day) for period in (PeriodName.AWAKE, PeriodName.ASLEEP)]
    return all(count is not None and count.filed for count in counts)


def _means(numbers: Numbers, mean: StatisticName, day: int) -> tuple[Decimal | None, Decimal | None]:
    return numbers.value(mean, PeriodName.AWAKE, day), numbers.value(mean, PeriodName.ASLEEP, day)


def _count(numbers: Numbers, mean: StatisticName, period: PeriodName, day: int) -> int:
    found = numbers.by_key.get((mean, period, day))
    return found.count if found else 0
