"""The answer first: whose recording, is it good enough, the averages against their limits, what stands out."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from gateway.model import (
    Judged,
    Period,
    PeriodName,
    Recording,
    StatisticName,
    Summary,
    Use,
    Verdict,
    in_tenths,
)
from gateway.report.clock import LocalClock, clock_of
from gateway.report.letterhead import Letterhead
from gateway.report.scene import limit_of
from gateway.report.text import in_kpa, joined, long_date, moment_text, number, pair, plain, tenths, whole
from gateway.report.words import Words

Json = dict[str, object]
CARD_ORDER = (PeriodName.AWAKE, PeriodName.ASLEEP, PeriodName.WHOLE)
MOST_SENTENCES = 12


@dataclass(frozen=True, slots=True)
class Mean:
    """The average of a period that is held against its limit; None where there is none."""

    systolic: Decimal | None
    diastolic: Decimal | None


def ordered(summary: Summary) -> tuple[Period, ...]:
    """Periods by day, then awake, asleep, 24 h."""
    return tuple(sorted(summary.windows.periods, key=lambda one: (one.day, CARD_ORDER.index(one.name))))


def period_label(period: PeriodName, day: int, days: int, words: Words) -> str:
    """"Awake", or "Awake, day 2" where there are two days."""
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
    """Not yet reviewed or by whom; historical."""
    signed = plain(letterhead.signed_off_by, 60)
    found = [words.say("reviewed", who=signed) if signed else words["not-reviewed"]]
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


def cards(summary: Summary, letterhead: Letterhead, words: Words) -> list[Json]:
    """One card per period with the average, its limit and how many readings it rests on."""
    days = days_of(summary)
    return [_card(summary, period, days, letterhead, words) for period in ordered(summary)]


def _card(summary: Summary, period: Period, days: int, letterhead: Letterhead, words: Words) -> Json:
    mean = mean_of(summary, period.name, period.day)
    known = mean.systolic is not None and mean.diastolic is not None
    against, above = _against(mean, limit_of(summary, period.name, period.day), words)
    kpa = f"{pair(in_kpa(mean.systolic), in_kpa(mean.diastolic))} {words['unit-kpa']}"
    return {
        "label": period_label(period.name, period.day, days, words),
        "value": pair(mean.systolic, mean.diastolic) if known else words["no-average"],
        "known": known,
        "unit": words["unit-mmhg"] if known else "",
        "kpa": kpa if letterhead.kpa and known else "",
        "against": against,
        "above": above,
        "count": _count(summary, period, words),
        "kind": _kind(summary, words) if period.name is PeriodName.WHOLE and known else "",
    }


def _kind(summary: Summary, words: Words) -> str:
    return words["mean-hourly" if summary.rules.deciding_mean == "hourly" else "mean-arithmetic"]


def _against(mean: Mean, limit: tuple[Decimal, Decimal] | None, words: Words) -> tuple[str, bool]:
    if limit is None or mean.systolic is None or mean.diastolic is None:
        return words["no-limit"], False
    text = f"{whole(limit[0])}/{whole(limit[1])}"
    high = mean.systolic >= limit[0], mean.diastolic >= limit[1]
    key = {
        (True, True): "at-or-above-both",
        (True, False): "at-or-above-systolic",
        (False, True): "at-or-above-diastolic",
        (False, False): "below-both",
    }[high]
    return words.say(key, limit=text), any(high)


def _count(summary: Summary, period: Period, words: Words) -> str:
    count = summary.adequacy.count(period.name, period.day)
    if count is None:
        return ""
    if count.scheduled is None:
        text = words.say("readings-valid", valid=count.valid)
    else:
        text = words.say("readings-of", valid=count.valid, scheduled=count.scheduled)
        if count.percent is not None:
            text += f" ({number(count.percent)} %)"
    return text if count.filed or period.name is PeriodName.WHOLE else f"{text}; {words['not-filed']}"


def questions(recording: Recording, summary: Summary, words: Words) -> list[list[str]]:
    """The clinician's next questions with their answers in numbers."""
    days = days_of(summary)
    rows = [[words["by-night"], _join_days([_dip(summary, day, words) for day in range(1, days + 1)], words)]]
    rows.append([words["extremes"], _extremes(summary, clock_of(recording), words)])
    facts = recording.circumstances
    if facts.clinic_systolic is not None or facts.clinic_diastolic is not None:
        value = f"{tenths(facts.clinic_systolic)}/{tenths(facts.clinic_diastolic)}"
        rows.append([words["clinic"], words.say("clinic-of", value=value)])
    else:
        rows.append([words["clinic"], words["clinic-none"]])
    treated = {True: "treated-yes", False: "treated-no", None: "treated-unknown"}[facts.treated]
    rows.append([words["treated"], words[treated]])
    return rows


def _join_days(texts: list[str], words: Words) -> str:
    if len(texts) == 1:
        return texts[0]
    return "; ".join(f"{words.say('day-number', day=day)}: {text}" for day, text in enumerate(texts, start=1))


def _dip(summary: Summary, day: int, words: Words) -> str:
    upper = value_of(summary, StatisticName.SYSTOLIC_DIP, None, day)
    lower = value_of(summary, StatisticName.DIASTOLIC_DIP, None, day)
    if upper is None:
        return words["dip-none"]
    if lower is None:
        return words.say("dip-one", systolic=number(upper))
    return words.say("dip-of", systolic=number(upper), diastolic=number(lower))


def _extremes(summary: Summary, clock: LocalClock, words: Words) -> str:
    found: list[tuple[Decimal, str, str]] = []
    for name, key in ((StatisticName.SYSTOLIC_MAXIMUM, "highest"), (StatisticName.SYSTOLIC_MINIMUM, "lowest")):
        values = [
            one.value
            for one in summary.statistics
            if one.name is name and one.period is PeriodName.WHOLE and one.value is not None
        ]
        if values:
            value = max(values) if key == "highest" else min(values)
            found.append((value, key, _when(summary.judged, value, clock, words)))
    if not found:
        return words["extremes-none"]
    return "; ".join(words.say(key, value=whole(value), when=when) for value, key, when in found)


def _when(judged: tuple[Judged, ...], value: Decimal, clock: LocalClock, words: Words) -> str:
    wanted = in_tenths(value)
    valid = (one for one in judged if one.use is Use.VALID and one.reading.systolic == wanted)
    first = min(valid, key=lambda one: one.reading.at.timestamp(), default=None)
    return moment_text(clock.local(first.reading.at), words) if first else "–"


def stands_out(summary: Summary) -> list[str]:
    """The sentences of the conclusion, as they are."""
    return [joined(plain(sentence, 320)) for sentence in summary.conclusion[:MOST_SENTENCES]]
