"""The parts of an adequacy rule, each held against the counts of one period."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta

from gateway.mapping.guideline import AdequacyRule
from gateway.model import PeriodCount, PeriodName, Recording
from gateway.model.phrase import Phrase
from gateway.periods import last_counted, utc
from gateway.validate.programme import Programme
from gateway.validate.words import in_words

_WORDS = {
    PeriodName.WHOLE: Phrase("in 24 hours"),
    PeriodName.AWAKE: Phrase("awake"),
    PeriodName.ASLEEP: Phrase("asleep"),
}
_UNKNOWN_INTERVAL = timedelta(minutes=60)


@dataclass(frozen=True, slots=True)
class Unmet:
    """A part of the rule that is not met, or (`unproven`) of which nobody can say whether it is."""

    day: int
    sentence: Phrase
    unproven: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What the rule is held against: counts of one period, the programme, the recording."""

    count: PeriodCount
    plan: Programme
    recording: Recording


def share(rule: AdequacyRule, found: Measured) -> Iterator[Unmet]:
    """Valid share of the scheduled readings of the whole day, compared in whole numbers."""
    count = found.count
    if rule.percent is None or count.period is not PeriodName.WHOLE:
        return
    if count.scheduled is None:
        yield Unmet(
            count.day,
            Phrase(
                "The programme of the monitor is not known, so the share of valid readings cannot be stated "
                "({percent} % are asked for).",
                percent=rule.percent,
            ),
            unproven=True,
        )
    elif 100 * count.valid < rule.percent * count.scheduled:
        yield Unmet(
            count.day,
            Phrase(
                "Only {valid} of {scheduled} scheduled readings are valid ({percent} %, {asked} % are asked for).",
                valid=count.valid,
                scheduled=count.scheduled,
                percent=count.percent,
                asked=rule.percent,
            ),
        )


def number(rule: AdequacyRule, found: Measured) -> Iterator[Unmet]:
    """Least number of valid readings of the period."""
    count = found.count
    least = _least(rule, count.period)
    if least is not None and count.valid < least:
        text = "Only {valid} valid readings {period} ({least} are asked for)."
        if count.valid == 1:
            text = "Only {valid} valid reading {period} ({least} are asked for)."
        yield Unmet(count.day, Phrase(text, valid=count.valid, period=_WORDS[count.period], least=least))


def length(rule: AdequacyRule, found: Measured) -> Iterator[Unmet]:
    """Least length of the recording, from fitting until the reading after the last attempt would be due."""
    if rule.span is None or found.count.period is not PeriodName.WHOLE or found.count.day != 1:
        return
    last = utc(last_counted(found.recording))
    minutes = found.plan.interval(last)
    step = timedelta(minutes=minutes) if minutes else _UNKNOWN_INTERVAL
    covered = last + step - found.plan.start
    if covered < timedelta(hours=rule.span):
        text = "The recording covers {span} ({asked} hours are asked for)."
        yield Unmet(1, Phrase(text, span=in_words(covered), asked=rule.span))


PARTS: tuple[Callable[[AdequacyRule, Measured], Iterator[Unmet]], ...] = (share, number, length)


def unmet(rule: AdequacyRule, found: Measured) -> tuple[Unmet, ...]:
    """Every part of the rule that the period does not meet."""
    return tuple(lack for part in PARTS for lack in part(rule, found))


def missing_period(rule: AdequacyRule, period: PeriodName, day: int) -> Iterator[Unmet]:
    """A period that the recording does not have at all, and of which readings are asked for."""
    least = _least(rule, period)
    if least is not None:
        yield Unmet(
            day,
            Phrase(
                "No time {period} is known ({least} valid readings {period} are asked for).",
                period=_WORDS[period],
                least=least,
            ),
        )


def _least(rule: AdequacyRule, period: PeriodName) -> int | None:
    return {PeriodName.WHOLE: rule.whole, PeriodName.AWAKE: rule.awake, PeriodName.ASLEEP: rule.asleep}[period]
