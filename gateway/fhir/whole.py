"""Results of a whole recording (or of each day of a longer one): dip, variability, counts, adequacy."""

from collections.abc import Iterator
from decimal import Decimal

from gateway.fhir.content import Rank, Resource
from gateway.fhir.diary import entries
from gateway.fhir.elements import (
    Element,
    Scope,
    component,
    concept,
    notes,
    observation,
    plain,
    quantity,
    span,
    worded,
)
from gateway.fhir.narrative import narrative, table
from gateway.fhir.periods import WORDS, counts, numbers
from gateway.fhir.statements import adequacy_note, said_of
from gateway.model import Period, PeriodCount, PeriodName, Severity, StatisticName, Subject

_DIPS = {StatisticName.SYSTOLIC_DIP: Subject.SYSTOLIC_DIP, StatisticName.DIASTOLIC_DIP: Subject.DIASTOLIC_DIP}
_TOO_FEW = {
    PeriodName.WHOLE: "24 hours: {valid} valid readings, too few to file a mean.",
    PeriodName.AWAKE: "Awake: {valid} valid readings, too few to file a mean.",
    PeriodName.ASLEEP: "Asleep: {valid} valid readings, too few to file a mean.",
}
_PATTERNS = (Subject.PATTERN, Subject.CLINIC_PATTERN, Subject.LOW_PRESSURE)


def whole(scope: Scope) -> Iterator[Resource]:
    """One Observation for each day of the recording."""
    for day in range(1, scope.days + 1):
        yield Resource(Rank.SUMMARY, _result(scope, day))


def whole_id(scope: Scope, day: int) -> str:
    """Id of the Observation of one day's whole-recording results."""
    return scope.identity.uuid(f"whole day {day}")


def _result(scope: Scope, day: int) -> Element:
    summary = scope.summary
    code = concept(scope, "recording-summary")
    title = code["text"] + scope.day_text(day)
    unfiled = [count for count in summary.adequacy.counts if count.day == day and not count.filed]
    components = [
        *_statistics(scope, day),
        _verdict(scope),
        *(item for count in unfiled for item in counts(scope, count, WORDS[count.period] + scope.day_text(day))),
        *_circumstances(scope),
    ]
    return observation(
        scope,
        whole_id(scope, day),
        "procedure",
        code | {"text": title},
        text=narrative(title, table(components)),
        effectivePeriod=_extent(scope, day),
        method=concept(scope, "method"),
        note=[
            *_remarks(scope, day, unfiled),
            *entries(scope, day),
        ],
        component=components,
    )


def _remarks(scope: Scope, day: int, unfiled: list[PeriodCount]) -> list[Element]:
    summary = scope.summary
    return notes(
        summary.review.sentence,
        adequacy_note(scope),
        *(_too_few(scope, count) for count in unfiled),
        *(finding.sentence for finding in summary.findings if finding.severity is Severity.CAUTION),
        *_patterns(scope, day),
        summary.rules.why_not,
    )


def _statistics(scope: Scope, day: int) -> Iterator[Element]:
    for name in StatisticName:
        found = scope.summary.statistic(name, None, day)
        if found is None or found.value is None:
            continue
        item = numbers(scope, found, name.value, scope.day_text(day).removeprefix(", "))
        yield item | (said_of(scope, _DIPS[name], day) if name in _DIPS else {})


def _verdict(scope: Scope) -> Element:
    adequacy = scope.summary.adequacy
    verdict = concept(scope, adequacy.verdict.value)
    text = f"{verdict['text'].removesuffix(' by the rule named')} by the rule of {adequacy.rule}"
    return component(scope, "adequacy", {"valueCodeableConcept": verdict | {"text": text}})


def _circumstances(scope: Scope) -> Iterator[Element]:
    monitor = scope.recording.monitor
    sources = {"sleep-times-from": scope.summary.windows.origin, "schedule-from": scope.summary.adequacy.schedule}
    for name, origin in sources.items():
        yield component(scope, name, {"valueCodeableConcept": {"text": origin.value}})
    if cuff := plain(monitor.cuff_size):
        yield component(scope, "cuff-size", {"valueCodeableConcept": worded(scope, "cuff-size", cuff)})
    if monitor.arm_circumference is not None:
        centimetres = Decimal(repr(monitor.arm_circumference))
        yield component(scope, "arm-circumference", {"valueQuantity": quantity(scope, centimetres, "cm")})


def _patterns(scope: Scope, day: int) -> Iterator[str]:
    if scope.filing.interpretation:
        for statement in scope.summary.interpretations:
            if statement.subject in _PATTERNS and statement.day == day:
                yield statement.text


def _too_few(scope: Scope, count: PeriodCount) -> str:
    return scope.say(_TOO_FEW[count.period], valid=count.valid)


def _extent(scope: Scope, day: int) -> Element:
    if scope.days == 1:
        return span(scope.recording.began, scope.recording.ended)
    of_day: list[Period] = [period for period in scope.summary.windows.periods if period.day == day]
    starts = [interval.start for period in of_day for interval in period.whole]
    ends = [interval.end for period in of_day for interval in period.whole]
    return span(min(starts), max(ends))
