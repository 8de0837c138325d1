"""Results of awake, asleep and 24 hours: one Observation for each period whose mean may be filed."""

from collections.abc import Iterator
from datetime import timedelta

from gateway.fhir.content import Rank, Resource
from gateway.fhir.elements import (
    Element,
    Scope,
    absent,
    claiming,
    component,
    concept,
    notes,
    observation,
    quantity,
    span,
)
from gateway.fhir.narrative import narrative, table
from gateway.fhir.readings import arm, filed_readings, reading_id
from gateway.fhir.siblings import apart
from gateway.fhir.statements import adequacy_note, judged_against
from gateway.mapping.profile import Claim
from gateway.model import Period, PeriodCount, PeriodName, Statistic, StatisticName, Subject, Unit, Use
from gateway.model.phrase import Phrase, joined

LEAST_HOURS = 20
"""Hours out of 24 that must hold a valid reading before a mean is called a 24-hour mean (common practice)."""

WORDS = {PeriodName.WHOLE: "24 hours", PeriodName.AWAKE: "awake", PeriodName.ASLEEP: "asleep"}
_PRESSURES = {
    "systolic": (StatisticName.SYSTOLIC_MEAN, StatisticName.SYSTOLIC_MEAN_HOURLY, Subject.SYSTOLIC, Unit.MMHG),
    "diastolic": (StatisticName.DIASTOLIC_MEAN, StatisticName.DIASTOLIC_MEAN_HOURLY, Subject.DIASTOLIC, Unit.MMHG),
}
_RATES = (StatisticName.HEART_RATE_MEAN, StatisticName.HEART_RATE_MEAN_HOURLY)
_EXTREMES = frozenset(name for name in StatisticName if name.value.endswith(("-maximum", "-minimum")))


def periods(scope: Scope) -> Iterator[Resource]:
    """Observations of all periods whose mean may be filed, in order of day and period."""
    for period in scope.summary.windows.periods:
        count = scope.summary.adequacy.count(period.name, period.day)
        if count is not None and count.filed and _has_pressure(scope, period):
            claim = Claim.WHOLE_DAY if kind_of(scope, period) == "24h" else Claim.PERIOD
            result = _result(scope, period, count)
            closed = scope.profile.closed(claim)
            if closed is None:
                yield Resource(Rank.SUMMARY, claiming(scope, claim, result))
            else:
                alone, further = apart(scope, period, result, closed)
                yield Resource(Rank.SUMMARY, claiming(scope, claim, alone))
                yield Resource(Rank.SUMMARY, further)


def period_id(scope: Scope, period: Period) -> str:
    """Id of a period's Observation."""
    return scope.identity.uuid(f"period {period.name.value} day {period.day}")


def kind_of(scope: Scope, period: Period) -> str:
    """What the mean of a period is called: "awake", "asleep", "24h", or "whole-recording" for a 24 h with holes."""
    if period.name is not PeriodName.WHOLE:
        return period.name.value
    start = period.means[0].start.timestamp()
    hours = {
        int((judged.reading.at.timestamp() - start) // 3600)
        for judged in scope.summary.judged
        if judged.use is Use.VALID and period.holds(judged.reading.at)
    }
    return "24h" if len(hours) >= LEAST_HOURS and _is_a_day(period) else "whole-recording"


def counts(scope: Scope, count: PeriodCount, where: str) -> Iterator[Element]:
    """Counts of a period as whole numbers; a number that is not known is left out."""
    for name in ("scheduled", "attempted", "valid", "excluded", "failed"):
        value = getattr(count, name)
        if value is not None:
            yield component(
                scope, f"readings-{name}", {"valueInteger": value}, _text(scope, f"readings-{name}", where)
            )
    if count.percent is not None:
        share = {"valueQuantity": quantity(scope, count.percent, Unit.PERCENT)}
        yield component(scope, "readings-valid-percent", share, _text(scope, "readings-valid-percent", where))


def numbers(scope: Scope, found: Statistic, concept_name: str, where: str) -> Element:
    """One statistic as a component under its own code, its text saying of what it is."""
    assert found.value is not None  # noqa: S101  (callers left out what could not be computed)
    value = {"valueQuantity": quantity(scope, found.value, found.unit)}
    return component(scope, concept_name, value, _text(scope, concept_name, where))


def _result(scope: Scope, period: Period, count: PeriodCount) -> Element:
    kind = kind_of(scope, period)
    where = WORDS[period.name] + scope.day_text(period.day)
    panel = concept(scope, f"{kind}-panel")
    title = panel["text"] + scope.day_text(period.day)
    components = [*_components(scope, period, kind, where), *counts(scope, count, where), *_intervals(scope, period)]
    return observation(
        scope,
        period_id(scope, period),
        "vital-signs",
        panel | {"text": title},
        text=narrative(title, table(components)),
        effectivePeriod=span(period.means[0].start, period.means[-1].end),
        method=concept(scope, "method", _method(scope, period)),
        bodySite=arm(scope),
        note=notes(adequacy_note(scope), _said_intervals(scope, period), scope.summary.rules.windows_text),
        derivedFrom=[
            {"reference": f"urn:uuid:{reading_id(scope, role)}"}
            for judged, role in filed_readings(scope)
            if judged.use is Use.VALID and period.holds(judged.reading.at)
        ],
        component=components,
    )


def _components(scope: Scope, period: Period, kind: str, where: str) -> Iterator[Element]:
    used: set[StatisticName] = set()
    for part, (arithmetic, hourly, subject, unit) in _PRESSURES.items():
        found = _deciding(scope, period, arithmetic, hourly)
        name = _mean_concept(scope, kind, part)
        text = _text(scope, name, scope.day_text(period.day).removeprefix(", "))
        if found is None or found.value is None:
            yield component(scope, name, absent(scope, "unknown"), text)
            continue
        used.add(found.name)
        value = {"valueQuantity": quantity(scope, found.value, unit)}
        yield component(scope, name, value, text, **judged_against(scope, subject, period.name, period.day))
    rate = _deciding(scope, period, *_RATES)
    if rate is not None and rate.value is not None:
        used.add(rate.name)
        yield numbers(scope, rate, f"{kind}-heart-rate-mean", scope.day_text(period.day).removeprefix(", "))
    for name in StatisticName:
        found = scope.summary.statistic(name, period.name, period.day)
        if found is not None and found.value is not None and name not in used:
            if kind == "24h" and name in _EXTREMES:
                yield numbers(scope, found, f"24h-{name.value}", scope.day_text(period.day).removeprefix(", "))
            else:
                yield numbers(scope, found, name.value, where)


def _mean_concept(scope: Scope, kind: str, part: str) -> str:
    by_night = kind in ("awake", "asleep") and not scope.summary.windows.sleep_by_day
    return f"{kind}-{part}-mean-by-night" if by_night else f"{kind}-{part}-mean"


def _deciding(scope: Scope, period: Period, arithmetic: StatisticName, hourly: StatisticName) -> Statistic | None:
    """Awake and asleep are arithmetic; for 24 hours the guideline names the mean that decides."""
    by_hour = period.name is PeriodName.WHOLE and scope.summary.rules.deciding_mean == "hourly"
    return scope.summary.statistic(hourly if by_hour else arithmetic, period.name, period.day)


def _has_pressure(scope: Scope, period: Period) -> bool:
    found = [_deciding(scope, period, names[0], names[1]) for names in _PRESSURES.values()]
    return any(item is not None and item.value is not None for item in found)


def _method(scope: Scope, period: Period) -> str:
    if period.name is not PeriodName.WHOLE:
        return "Ambulatory, automatic upper-arm cuff; arithmetic mean of the valid readings"
    mean = "mean of hourly means" if scope.summary.rules.deciding_mean == "hourly" else "arithmetic mean"
    return f"Ambulatory, automatic upper-arm cuff; {mean}, as {scope.summary.rules.guideline_title} decides on"


def _intervals(scope: Scope, period: Period) -> Iterator[Element]:
    for interval in period.means:
        yield component(scope, "period-interval", {"valuePeriod": span(interval.start, interval.end)})


def _said_intervals(scope: Scope, period: Period) -> str:
    spans = joined(
        ", ",
        (
            Phrase("{start} to {end}", start=f"{item.start:%Y-%m-%d %H:%M}", end=f"{item.end:%Y-%m-%d %H:%M}")
            for item in period.means
        ),
    )
    return scope.say("Local time: {spans}.", spans=spans)


def _is_a_day(period: Period) -> bool:
    return sum((interval.length for interval in period.means), timedelta()) == timedelta(hours=24)


def _text(scope: Scope, name: str, where: str) -> str:
    text = scope.codes.meaning(name, scope.filing.snomed).text
    return f"{text}, {where}" if where else text
