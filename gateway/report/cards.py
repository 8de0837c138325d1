"""The averages against their limits, one card per period."""

from collections.abc import Iterator
from decimal import Decimal

from gateway.model import Period, PeriodName, Summary
from gateway.report.headline import Json, Mean, days_of, mean_of, ordered, period_label
from gateway.report.letterhead import Letterhead
from gateway.report.scene import limit_of
from gateway.report.text import in_kpa, number, pair, whole
from gateway.report.words import Words


def cards(summary: Summary, letterhead: Letterhead, words: Words) -> list[Json]:
    """One card per period with the average, its limit and how many readings it rests on."""
    days = days_of(summary)
    return [_card(summary, period, days, letterhead, words) for period in ordered(summary)]


def _card(summary: Summary, period: Period, days: int, letterhead: Letterhead, words: Words) -> Json:
    mean = mean_of(summary, period.name, period.day)
    known = mean.systolic is not None and mean.diastolic is not None
    against, above = _against(mean, limit_of(summary, period.name, period.day), words)
    decides = period.name in summary.rules.deciding_periods
    kpa = f"{words.figure(pair(in_kpa(mean.systolic), in_kpa(mean.diastolic)))} {words['unit-kpa']}"
    return {
        "label": period_label(period.name, period.day, days, words),
        "value": words.figure(pair(mean.systolic, mean.diastolic)) if known else words["no-average"],
        "known": known,
        "unit": words["unit-mmhg"] if known else "",
        "kpa": kpa if letterhead.kpa and known else "",
        "against": against,
        "above": above and decides,
        "count": _count(summary, period, words),
        "kind": ", ".join(_kinds(summary, period.name, decides, words)) if known else "",
    }


def _kinds(summary: Summary, period: PeriodName, decides: bool, words: Words) -> Iterator[str]:
    """Which mean it is, and that the guideline does not decide by this period."""
    if period is PeriodName.WHOLE:
        yield words["mean-hourly" if summary.rules.deciding_mean == "hourly" else "mean-arithmetic"]
    if summary.rules.interpreted and not decides:
        yield words["compared-only"]


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
            text += f" ({words.figure(number(count.percent))} %)"
    return text if count.filed or period.name is PeriodName.WHOLE else f"{text}; {words['not-filed']}"
