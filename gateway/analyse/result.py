"""Recording and verdict -> Summary: numbers first, then words about the numbers."""

from itertools import chain

from gateway.analyse import words
from gateway.analyse.alerts import alerts
from gateway.analyse.applicability import irregular, rule_set
from gateway.analyse.conclusion import Told, conclude
from gateway.analyse.dipping import clock_finding
from gateway.analyse.figures import Cut, cut, figures
from gateway.analyse.statements import Ground, statements
from gateway.mapping.rules import Rules
from gateway.mapping.studies import NEEDS
from gateway.model import Examined, PeriodName, Recording, Summary


def summarise(recording: Recording, examined: Examined, rules: Rules) -> Summary:
    """Everything that report and record get to see about one recording.

    Pure: the same values give the same summary. Pressures are whole tenths of mmHg inside and decimals as reported
    in the result. Only called when nothing holds the recording; raises ValueError when windows or adequacy were
    never found.
    """
    windows, adequacy = examined.windows, examined.adequacy
    if windows is None or adequacy is None:
        raise ValueError("a recording is summarised only after its windows and its adequacy were found")
    whole = cut(examined.judged, windows)
    ruled = rule_set(recording, windows, rules)
    rough = irregular(recording, examined)
    numbers = figures(recording, whole, adequacy, rules.guideline, ruled.interpreted, rough)
    short = _short_days(whole)
    ground = Ground(
        numbers=numbers,
        adequacy=adequacy,
        guideline=rules.guideline,
        ruled=ruled,
        circumstances=recording.circumstances,
        days=whole.days,
        short_days=short,
        places={(name, day): words.place(name, day, len(whole.days), day in short) for name, day in whole.tally},
    )
    said = tuple(statements(ground))
    noticed = chain.from_iterable(clock_finding(numbers, day) for day in whole.days)
    told = alerts(rules.alerts, numbers, examined.judged, windows, ruled.interpreted)
    findings = (*examined.findings, *told, *noticed)
    lines = conclude(
        Told(ground=ground, review=examined.review, windows=windows, said=said, findings=findings, irregular=rough)
    )
    return Summary(
        windows=windows,
        judged=examined.judged,
        statistics=tuple(numbers.by_key.values()),
        adequacy=adequacy,
        interpretations=said,
        findings=findings,
        review=examined.review,
        rules=ruled,
        conclusion=tuple(chain.from_iterable(lines)),
        lines=tuple(len(line) for line in lines),
        historical=examined.historical,
    )


def _short_days(whole: Cut) -> dict[int, int]:
    """Days with fewer than 20 hours that hold a valid reading, and how many do."""
    hours = {day: whole.hours_read(day) for name, day in whole.tally if name is PeriodName.WHOLE}
    return {day: count for day, count in hours.items() if count < NEEDS.day_hours}
