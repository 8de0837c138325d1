"""What a clinician asks next: the fall during sleep, extremes and when, the clinic, treatment."""

from decimal import Decimal

from gateway.model import Judged, PeriodName, Recording, StatisticName, Summary, Use, in_tenths
from gateway.report.clock import LocalClock, clock_of
from gateway.report.headline import days_of, value_of
from gateway.report.text import moment_text, number, tenths, whole
from gateway.report.words import Words

MOST_LETTERS = 117
"""of three questions with their answers that stand in one line"""


def questions(recording: Recording, summary: Summary, words: Words) -> list[list[list[str]]]:
    """The clinician's next questions with their answers in numbers, as lines of one to three of them."""
    days = days_of(summary)
    night = [words["by-night"], _join_days([_dip(summary, day, words) for day in range(1, days + 1)], words)]
    extremes = [words["extremes"], _extremes(summary, clock_of(recording), words)]
    others = _around(recording, words)
    letters = sum(len(text) for asked in (night, *others) for text in asked)
    return [[night, *others], [extremes]] if letters <= MOST_LETTERS else [[night], others, [extremes]]


def _around(recording: Recording, words: Words) -> list[list[str]]:
    """Clinic and treatment."""
    facts = recording.circumstances
    if facts.clinic_systolic is not None or facts.clinic_diastolic is not None:
        value = f"{tenths(facts.clinic_systolic)}/{tenths(facts.clinic_diastolic)}"
        clinic = words.say("clinic-of", value=value)
    else:
        clinic = words["clinic-none"]
    treated = {True: "treated-yes", False: "treated-no", None: "treated-unknown"}[facts.treated]
    return [[words["clinic"], clinic], [words["treated"], words[treated]]]


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
