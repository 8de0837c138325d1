"""What the site's own alert rules say of a recording: values beside the site's limit, in the site's own name."""

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from gateway.analyse.numbers import Numbers
from gateway.analyse.words import Sentence, on_day, plain, readings, say
from gateway.mapping.alerts import AlertRule
from gateway.model import Finding, Judged, Period, PeriodName, Severity, Unit, Use, Windows
from gateway.model.phrase import Phrase

ALERT_RULE = "local-alert"
_PLACES = {PeriodName.WHOLE: "24-hour {what}", PeriodName.AWAKE: "awake {what}", PeriodName.ASLEEP: "asleep {what}"}
_UNITS = {
    Unit.MMHG: "{value} mmHg",
    Unit.PER_MINUTE: "{value} per minute",
    Unit.MMHG_PER_MINUTE: "{value} mmHg per minute",
    Unit.ONE: "{value}",
    Unit.PERCENT: "{value} %",
    Unit.HOURS: "{value} h",
}


def alerts(
    rules: Iterable[AlertRule], numbers: Numbers, judged: Sequence[Judged], windows: Windows, limited: bool
) -> Iterator[Finding]:
    """A caution for every rule that is met, day by day. `limited`: the guideline's limits apply to this person."""
    days = sorted({period.day for period in windows.periods})
    for rule in rules:
        if not (limited or rule.everyone):
            continue
        for day in days:
            text = _of_statistic(rule, numbers, day) if rule.statistic else _of_readings(rule, judged, windows, day)
            if text is not None:
                sentence = on_day(text, day, len(days))
                yield Finding(rule=ALERT_RULE, severity=Severity.CAUTION, sentence=sentence)


def _of_statistic(rule: AlertRule, numbers: Numbers, day: int) -> Phrase | None:
    found = numbers.by_key.get((rule.statistic, rule.period, day)) if rule.statistic else None
    if found is None or found.value is None or not rule.meets(found.value):
        return None
    what = Phrase(found.name.value.replace("-", " "))
    return say(
        Sentence.ALERT_AT_OR_ABOVE if rule.at_or_above is not None else Sentence.ALERT_BELOW,
        name=rule.name,
        what=what if rule.period is None else Phrase(_PLACES[rule.period], what=what),
        found=_with_unit(found.value, found.unit),
        bound=_bound(rule),
    )


def _of_readings(rule: AlertRule, judged: Sequence[Judged], windows: Windows, day: int) -> Phrase | None:
    period = next((one for one in windows.periods if (one.name, one.day) == (rule.period, day)), None)
    met = sum(rule.meets(value) for value in _values(rule, judged, period)) if period else 0
    if period is None or met < rule.readings:
        return None
    return say(
        Sentence.ALERT_READINGS_AT_OR_ABOVE if rule.at_or_above is not None else Sentence.ALERT_READINGS_BELOW,
        name=rule.name,
        count=readings(met),
        what=Phrase(_PLACES[period.name], what=Phrase((rule.reading or "").replace("-", " "))),
        bound=_with_unit(_bound(rule), Unit.PER_MINUTE if rule.reading == "heart-rate" else Unit.MMHG),
    )


def _values(rule: AlertRule, judged: Sequence[Judged], period: Period) -> Iterator[Decimal]:
    """Values of the valid readings of a period, by their times over the whole of it."""
    for verdict in judged:
        if verdict.use is not Use.VALID or not period.counts(verdict.reading.at):
            continue
        if rule.reading == "heart-rate" and verdict.heart_rate_excluded:
            continue
        value = getattr(verdict.reading, (rule.reading or "").replace("-", "_"))
        if value is not None:
            yield Decimal(value).scaleb(-1)


def _bound(rule: AlertRule) -> str:
    return plain(rule.below if rule.at_or_above is None else rule.at_or_above)  # type: ignore[arg-type]


def _with_unit(value: Decimal | str, unit: Unit) -> Phrase:
    return Phrase(_UNITS[unit], value=value)
