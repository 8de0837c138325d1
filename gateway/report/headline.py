"""The answer first: whose recording, is it good enough, the averages against their limits, what stands out."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from gateway.model import (
    Period,
    PeriodName,
    Recording,
    StatisticName,
    Summary,
    Verdict,
)
from gateway.report.clock import clock_of
from gateway.report.letterhead import Letterhead
from gateway.report.text import joined, long_date, plain
from gateway.report.words import Words

Json = dict[str, object]
CARD_ORDER = (PeriodName.AWAKE, PeriodName.ASLEEP, PeriodName.WHOLE)
MOST_SENTENCES, MOST_LINES = 12, 8


@dataclass(frozen=True, slots=True)
class Mean:
    """The average of a period that is held against its limit; None where there is none."""

    systolic: Decimal | None
    diastolic: Decimal | None


def ordered(summary: Summary) -> tuple[Period, ...]:
    """Periods by day, then awake, asleep, 24 h."""
    return tuple(sorted(summary.windows.periods, key=lambda one: (one.day, CARD_ORDER.index(one.name))))


def period_label(period: PeriodName, day: int, days: int, words: Words) -> str:
    """ "Awake", or "Awake, day 2" where there are two days."""
    return words.say("day", period=words[period], day=day) if days > 1 else words[period]


def days_of(summary: Summary) -> int:
    """How many days the recording has."""
    return max((period.day for period in summary.windows.periods), default=1)


def mean_of(summary: Summary, period: PeriodName, day: int) -> Mean:
    """The deciding average: for 24 h the one that the guideline names."""
    hourly = period is PeriodName.WHOLE and summary.rules.deciding_mean == "hourly"
    names = (
        (StatisticName.SYSTOLIC_MEAN_HOURLY, StatisticName.DIASTOLIC_MEAN_HOURLY)
        if hourly
        else (StatisticName.SYSTOLIC_MEAN, StatisticName.DIASTOLIC_MEAN)
    )
    return Mean(*(value_of(summary, name, period, day) for name in names))


def value_of(summary: Summary, name: StatisticName, period: PeriodName | None, day: int) -> Decimal | None:
    """A reported value, None where there is none."""
    found = summary.statistic(name, period, day)
    return found.value if found else None


def person_lines(recording: Recording, words: Words) -> Json:
    """Whose recording: name, birth date, number, sex."""
    person = recording.person
    names = [plain(name, 90) for name in (person.family_name, person.given_name) if name and name.strip()]
    facts = [
        words.say("born", day=long_date(person.birth_date, words)) if person.birth_date else words["born-unknown"],
        f"{words['number']} {plain(person.identifier.value, 40)}" if person.identifier else words["number-unknown"],
    ]
    if person.sex:
        facts.append(words[f"sex-{person.sex}"])
    name = ", ".join(names) or words["name-unknown"]
    return {"name": name, "size": _name_size(name), "short": plain(name, 60), "facts": facts}


def _name_size(name: str) -> int:
    """Points: long names stand smaller, never cut where the person must be known."""
    return next((size for size, most in ((14, 40), (11, 90)) if len(name) <= most), 9)


def worn(recording: Recording, words: Words) -> str:
    """When the monitor was worn, and for how long in real time."""
    clock = clock_of(recording)
    began, ended = clock.local(recording.began), clock.local(recording.ended)
    minutes = round((ended.timestamp() - began.timestamp()) / 60)
    span = words.say("span", start=_day_and_time(began, words), end=_day_and_time(ended, words))
    return f"{span} ({words.say('hours', hours=minutes // 60, minutes=minutes % 60)})"


def _day_and_time(moment: datetime, words: Words) -> str:
    return f"{long_date(moment.date(), words)} {moment:%H:%M}"


def status(summary: Summary, letterhead: Letterhead, words: Words) -> list[str]:
    """Not yet reviewed or by whom; a correction; historical."""
    signed = plain(letterhead.signed_off_by, 60)
    if signed and letterhead.signed_off_on:
        signed += f", {long_date(letterhead.signed_off_on, words)}"
    found = [words.say("reviewed", who=signed) if signed else words["not-reviewed"]]
    if letterhead.replaces_on:
        found.append(words.say("replaces", day=long_date(letterhead.replaces_on, words)))
    if summary.historical:
        on = letterhead.analysed_on
        found.append(words.say("historical-on", day=long_date(on, words)) if on else words["historical"])
    return found


def verdict(summary: Summary, words: Words) -> Json:
    """Good enough or not, by whose rule, and why not."""
    adequacy = summary.adequacy
    return {
        "question": words["good-enough"],
        "answer": words[adequacy.verdict],
        "good": adequacy.verdict is Verdict.ADEQUATE,
        "rule": words.say("adequate-by", rule=plain(adequacy.rule, 70)),
        "reasons": [plain(reason, 220) for reason in adequacy.reasons[:5]],
    }


def last_test(summary: Summary) -> list[str]:
    """What is told beside earlier recordings; empty where none is known."""
    return [joined(plain(line, 320)) for line in summary.comparison[:MOST_LINES]]


def stands_out(summary: Summary) -> list[str]:
    """The sentences of the conclusion as they are; the review message stands above the answer already."""
    told = [sentence for sentence in summary.conclusion if sentence != summary.review.sentence]
    return [joined(plain(sentence, 320)) for sentence in told[:MOST_SENTENCES]]
